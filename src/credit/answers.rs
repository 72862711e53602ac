//! Answers of a case to the questions that computing it asked.
//!
//! Comes in: a case and what was found. Goes out: the questions that are answered, taken out of what stands open,
//! and complaints about answers to questions that nobody asks. Changes no figure.

use super::codes;
use crate::case::{self, Answer, Case};
use crate::finding::{Finding, Severity};

/// Takes the answered questions out of what was found and returns them, each with the number of its answer.
///
/// An answer is to a question by its code and what it is about. One that names the whole thing, such as
/// `property.roof-array`, also answers what was asked about a part of it, and the other way round; one that names
/// nothing answers only where the question was asked once.
pub(super) fn take_answered(case: &Case, found: &mut Vec<Finding>) -> Vec<(usize, Finding)> {
    let asked = |code: &str| {
        let same = |one: &&Finding| one.severity == Severity::Question && one.code == code;
        found.iter().filter(same).count()
    };
    let answers = |answer: &Answer, question: &Finding| {
        answer.question.value == question.code
            && match (&answer.about, &question.about) {
                (Some(given), Some(asked)) => within(&given.value, asked) || within(asked, &given.value),
                _ => asked(question.code) == 1,
            }
    };
    let answer_to = |question: &Finding| case.answers.iter().position(|answer| answers(answer, question));
    let questions = found.iter().filter(|one| one.severity == Severity::Question);
    let answered: Vec<(usize, Finding)> =
        questions.filter_map(|one| Some((answer_to(one)?, one.clone()))).collect();
    found.retain(|one| !answered.iter().any(|(_, question)| question == one));
    answered
}

/// Says whether a path is another one or leads to a part of it.
fn within(path: &str, whole: &str) -> bool {
    path.strip_prefix(whole).is_some_and(|rest| rest.is_empty() || rest.starts_with('.'))
}

/// Complains about answers to questions that do not exist.
pub(super) fn unknown(case: &Case) -> Vec<Finding> {
    let codes = || case::codes::CODES.iter().chain(codes::CODES).map(|(code, _)| *code);
    let unknown = case.answers.iter().filter(|answer| !codes().any(|code| code == answer.question.value));
    unknown
        .map(|answer| {
            let written = &answer.question.value;
            let nearest = codes().min_by_key(|code| strsim::damerau_levenshtein(written, code)).unwrap_or("");
            Finding::warning(
                "unknown-question",
                format!("no question has the code `{written}`, so this answers nothing"),
            )
            .at(answer.question.span)
            .help(format!(
                "write the code that stands in brackets after the word `question`; the nearest is `{nearest}`"
            ))
        })
        .collect()
}
