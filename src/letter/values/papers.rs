//! What letters say of papers: which to keep, which the firm has, and until when.

use super::Telling;
use crate::credit::papers::{self, Keep, Need};
use crate::letter::names;

impl Telling<'_> {
    fn all_papers(&self) -> Vec<papers::ItemPapers> {
        let request = &self.request;
        papers::papers(request.case, request.law, request.outcome, request.year)
    }

    /// Returns what to keep, by item.
    pub(super) fn papers(&self) -> Vec<names::ItemPapers> {
        self.all_papers()
            .into_iter()
            .filter_map(|one| {
                let item = self.request.case.item(&one.item)?;
                let (keep_until, reason) = self.keep_words(one.keep);
                let names = |on_file: bool| -> Vec<String> {
                    one.papers
                        .iter()
                        .filter(|paper| paper.on_file.is_empty() != on_file && (on_file || !paper.common))
                        .map(|paper| self.speech.tell(&paper.what))
                        .collect()
                };
                let list = one
                    .papers
                    .iter()
                    .map(|paper| names::Paper {
                        what: self.speech.tell(&paper.what),
                        on_file: !paper.on_file.is_empty(),
                        with_home: paper.with_home,
                    })
                    .collect();
                Some(names::ItemPapers {
                    item: self.item_name(item),
                    year: one.year.to_string(),
                    on_file: names(true),
                    to_keep: names(false),
                    missing: one.missing().map(|paper| self.speech.tell(&paper.what)).collect::<Vec<_>>(),
                    list,
                    keep_until,
                    reason,
                })
            })
            .collect()
    }

    /// Returns the items that lack a paper that a rule asks for, in plain words, and each paper of a need that these
    /// items lack, once, with the items it is for.
    pub(super) fn missing_papers(&self, need: Need) -> (Vec<String>, Vec<names::MissingPaper>) {
        let mut items: Vec<String> = Vec::new();
        let mut papers: Vec<(String, Vec<usize>)> = Vec::new();
        let all: Vec<_> =
            self.all_papers().into_iter().filter(|one| one.missing().next().is_some()).collect();
        // The year tells items apart only where it differs.
        let one_year = all.windows(2).all(|pair| pair[0].year == pair[1].year);
        for one in all {
            let Some(item) = self.request.case.item(&one.item) else { continue };
            let mut name = self.item_name(item);
            if !one_year {
                name = self.speech.say("{}, {}", &[&name, &one.year.to_string()]);
            }
            let number = items.len();
            items.push(name);
            for paper in one.not_on_file(need) {
                let words = self.speech.tell(&paper.what);
                match papers.iter_mut().find(|known| known.0 == words) {
                    Some(known) => known.1.push(number),
                    None => papers.push((words, vec![number])),
                }
            }
        }
        // The papers that all need come first, those of one item last.
        papers.sort_by_key(|paper| std::cmp::Reverse(paper.1.len()));
        let told = |(what, of): &(String, Vec<usize>)| {
            let all = of.len() == items.len();
            let most = !all && of.len() * 2 > items.len();
            let others = (0..items.len()).filter(|number| !of.contains(number));
            let named = |numbers: Vec<usize>| numbers.iter().map(|n| items[*n].clone()).collect::<Vec<_>>();
            names::MissingPaper {
                what: what.clone(),
                only_for: named(if all || most { Vec::new() } else { of.clone() }),
                all_but: named(if most { others.collect() } else { Vec::new() }),
            }
        };
        let list = papers.iter().map(told).collect();
        (items, list)
    }

    /// Returns the papers that are asked for every item, each once.
    pub(super) fn common_papers(&self) -> Vec<String> {
        let mut common: Vec<String> = Vec::new();
        for paper in self.all_papers().into_iter().flat_map(|one| one.papers).filter(|paper| paper.common) {
            let words = self.speech.tell(&paper.what);
            if !common.contains(&words) {
                common.push(words);
            }
        }
        common
    }

    /// Says until when papers are kept, and why.
    fn keep_words(&self, keep: Keep) -> (String, String) {
        let speech = self.speech;
        let until = |day| speech.say("at least until {}", &[&speech.date(day)]);
        match keep {
            Keep::CreditLeft(year) => (
                speech.say("no end date yet", &[]),
                speech.say(
                    "By our figures, part of the credit is still unused after the {} return. The IRS can look at the work again while a return that uses the credit is open.",
                    &[&year.to_string()],
                ),
            ),
            Keep::NotFiled { last_used, not_before } => (
                until(not_before),
                speech.say(
                    "That is three years after the {} return is due. If you file it later, count three years from that day.",
                    &[&last_used.to_string()],
                ),
            ),
            Keep::Until { day, last_used, after_payment: false } => (
                until(day),
                speech.say(
                    "That is three years after the {} return was filed or due. By our figures, it is the last one to use this credit.",
                    &[&last_used.to_string()],
                ),
            ),
            Keep::Until { day, last_used, after_payment: true } => (
                until(day),
                speech.say(
                    "That is two years after the last payment for {}. By our figures, it is the last year to use this credit.",
                    &[&last_used.to_string()],
                ),
            ),
            Keep::BasisOnly => (
                speech.say("as long as you own the home", &[]),
                speech.say("No credit came of this work, but its papers show what the home cost you.", &[]),
            ),
        }
    }

    /// Says until when the returns with Form 5695 are kept: as long as the longest of their papers.
    pub(super) fn keep_returns(&self) -> String {
        let papers = self.all_papers();
        let credit_left = papers.iter().any(|one| matches!(one.keep, Keep::CreditLeft(_)));
        let holds = |fact: &str| self.request.facts.holds(fact) == Some(true);
        let ends = holds("ends_at_death");
        if !ends && (credit_left || holds("carries_out")) {
            return self.speech.say(
                "as long as any of the credit is left, and for three years after the return that uses the last of it",
                &[],
            );
        }
        let day = papers
            .into_iter()
            .filter_map(|one| match one.keep {
                Keep::Until { day, .. } => Some(day),
                Keep::NotFiled { not_before, .. } => Some(not_before),
                Keep::CreditLeft(_) | Keep::BasisOnly => None,
            })
            .max();
        match day {
            Some(day) => self.speech.say("at least until {}", &[&self.speech.date(day)]),
            None => self.speech.say("at least three years after you filed them", &[]),
        }
    }
}
