//! `begin`: answers typed by whoever, and the file in which they are kept.

use super::case::told;
use gablework::begin::{self, Answers, Conversation, Desk, Question, Reply, Stop};
use gablework::case::single::Refusal;
use gablework::law::Law;
use jiff::civil::date;

/// Someone who types the lines of a text.
struct Lines<'a> {
    lines: std::str::Lines<'a>,
    asked: usize,
}

impl Desk for Lines<'_> {
    fn ask(&mut self, question: &Question) -> Reply {
        assert!(!question.words.is_empty());
        self.asked += 1;
        assert!(self.asked < 100_000, "it asks without end");
        match self.lines.next() {
            Some("<") => Reply::Back,
            Some(line) => Reply::Typed(line.to_string()),
            None => Reply::Gone,
        }
    }

    fn say(&mut self, _: &str) {}

    fn refuse(&mut self, refusal: &Refusal) {
        assert!(!refusal.message.is_empty());
    }
}

/// Kept answers before a blank line of `==`, then lines that are typed.
pub fn begun(bytes: &[u8]) {
    let (kept, typed) = match bytes.windows(4).position(|four| four == b"\n==\n") {
        Some(at) => (&bytes[..at], &bytes[at + 4..]),
        None => (&[][..], bytes),
    };
    let answers = Answers::from_bytes(kept).unwrap_or_default();
    assert_eq!(Answers::from_bytes(&answers.to_bytes()).as_ref(), Some(&answers));
    let typed = String::from_utf8_lossy(typed);
    let mut desk = Lines { lines: typed.lines(), asked: 0 };
    let mut last = Answers::default();
    let mut keep = |answers: &Answers| {
        last = answers.clone();
        Ok(())
    };
    let taken = ["HH-0001".to_string()];
    let mut conversation =
        Conversation::new(Law::built_in(), date(2026, 11, 12), &taken, &mut desk, &mut keep, answers);
    match begin::ask(&mut conversation) {
        Ok(begun) => {
            let computed = told(begun.text.as_bytes());
            assert!(computed.case.is_some(), "what was written is no case:\n{}", begun.text);
        }
        Err(Stop::Fault(fault)) => panic!("a fault of the program: {fault}"),
        Err(_) => {}
    }
    let kept = last.to_bytes();
    assert!(!super::case::holds_full_number(&String::from_utf8_lossy(&kept)), "a full number is kept");
}
