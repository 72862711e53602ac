//! What holds for every case that `begin` makes: whatever is answered, in a way that is taken, is a case that `check`
//! passes.

use gablework::begin::asking::read;
use gablework::begin::{self, Answers, Conversation, Desk, Question, Reply};
use gablework::case::single::Refusal;
use gablework::finding::{Severity, Sources};
use gablework::law::Law;
use jiff::civil::date;
use proptest::prelude::*;

/// Texts to answer with; each question takes some of them.
const TYPED: &[&str] = &[
    "HH-0800",
    "x",
    "Ana Alder",
    "Zo\u{eb} \"Zed\" O'Hara-Lind",
    "a: b, {c} # d",
    "- e",
    "yes",
    "1e3",
    "0x10",
    "null",
    "@f",
    "%g",
    "C:\\h",
    "'i'",
    "12 Alder Lane #4",
    "12 Alder Lane, Unit \"4\", Riverton, MA 01040",
    "Ben Alder 4411",
    "1250.75 a: b, {c} # d",
    "$12.50 the 'letter'",
    "65% the letter",
    "PO Box 7",
    "MA",
    "nj",
    "01040",
    "45990-0103",
    "4410",
    "2006-03-01",
    "2019-09-09",
    "2021-10-08",
    "2023-11-20",
    "2024-12-28",
    "2025-01-02",
    "2025-07-30",
    "2025-12-31",
    "2026-02-03",
    "0",
    "1",
    "2",
    "3.5",
    "200",
    "1250.75",
    "18,000.00",
    "$400",
    "0%",
    "45%",
    "60%",
    "100%",
    "AB12",
    "AB12 CD34",
    "AB12345678901234X",
    "12-3456789",
    "Riverton Light Department",
];

/// Answers at random, but so that the story ends.
struct Dice {
    state: u64,
    asked: usize,
}

impl Dice {
    fn roll(&mut self, sides: usize) -> usize {
        // Numerical Recipes' linear congruential generator; the upper bits are the better ones.
        self.state =
            self.state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.state >> 33) as usize % sides.max(1)
    }

    fn answer(&mut self, question: &Question) -> String {
        if question.id == "confirm" {
            // Now and then a part is looked at again.
            return if self.roll(4) == 0 && self.asked < 150 {
                (1 + self.roll(5)).to_string()
            } else {
                String::new()
            };
        }
        let likely = question.default.is_some() || question.optional;
        let late = self.asked > 120;
        if likely && (late || self.roll(3) == 0) {
            return String::new();
        }
        if question.id.contains(".more") {
            return if self.roll(3) == 0 { "yes" } else { "no" }.to_string();
        }
        if !question.choices.is_empty() {
            return (1 + self.roll(question.choices.len())).to_string();
        }
        let first = self.roll(TYPED.len());
        let texts = (0..TYPED.len()).map(|n| TYPED[(first + n) % TYPED.len()]).chain(["yes", "no"]);
        let fits = texts.into_iter().find(|typed| read(question, typed).is_ok());
        fits.map_or_else(String::new, str::to_string)
    }
}

impl Desk for Dice {
    fn ask(&mut self, question: &Question) -> Reply {
        self.asked += 1;
        assert!(self.asked < 2_000, "the story does not end: {}", question.words);
        if self.roll(40) == 0 && self.asked < 150 {
            return Reply::Back;
        }
        let answer = self.answer(question);
        assert!(read(question, &answer).is_ok(), "`{answer}` is not taken at: {}", question.words);
        Reply::Typed(answer)
    }

    fn say(&mut self, text: &str) {
        assert!(!text.contains("fit yet"), "{text}");
    }

    /// Every answer fits; only one of before may no longer do so.
    fn refuse(&mut self, _: &Refusal) {}
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 60, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn every_case_that_is_asked_for_passes(seed in any::<u64>()) {
        let mut kept = Answers::default();
        let mut keep = |answers: &Answers| {
            kept = answers.clone();
            Ok(())
        };
        let mut dice = Dice { state: seed, asked: 0 };
        let mut conversation =
            Conversation::new(Law::built_in(), date(2026, 11, 12), &[], &mut dice, &mut keep, Answers::default());
        let Ok(begun) = begin::ask(&mut conversation) else { panic!("it stopped") };
        passes(&begun.text);

        // Told again from what was kept, it is the same, and nothing but the confirmation is asked.
        let read_again = Answers::from_bytes(&kept.to_bytes());
        prop_assert_eq!(read_again.as_ref(), Some(&kept));
        let mut keep = |_: &Answers| Ok(());
        let mut confirm = Confirm;
        let mut conversation = Conversation::new(Law::built_in(), date(2026, 11, 12), &[], &mut confirm, &mut keep, kept);
        let Ok(again) = begin::ask(&mut conversation) else { panic!("it stopped") };
        prop_assert_eq!(again.text, begun.text);
    }
}

/// Writes the case and answers nothing else.
struct Confirm;

impl Desk for Confirm {
    fn ask(&mut self, question: &Question) -> Reply {
        assert_eq!(question.id, "confirm", "{}", question.words);
        Reply::Typed(String::new())
    }

    fn say(&mut self, _: &str) {}

    fn refuse(&mut self, refusal: &Refusal) {
        panic!("{}", refusal.message);
    }
}

fn passes(text: &str) {
    let computed =
        gablework::assemble::compute("begun.case.yaml", text.as_bytes(), Law::built_in(), Sources::default());
    let computed = computed.unwrap_or_else(|fault| panic!("{fault}\n{text}"));
    let errors = computed.outcome.findings.iter().filter(|one| one.severity == Severity::Error);
    let errors: Vec<String> = errors.map(|one| one.render(&computed.sources)).collect();
    assert!(errors.is_empty(), "{}\n{text}", errors.join("\n"));
}
