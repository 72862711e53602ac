//! Answers of a case to the questions that computing it asked.
//!
//! Comes in: a case and what was found. Goes out: the questions that are answered, taken out of what stands open,
//! and complaints about answers that answer nothing or cannot tell when they are out of date. Changes no figure.

use crate::case::{Answer, Case};
use crate::credit::codes;
use crate::finding::{Finding, Severity};
use crate::record::near;

/// Takes the answered questions out of what was found and returns them, each with the number of its answer.
///
/// An answer is to a question by its code and what it is about. One that names the whole thing, such as
/// `property.roof-array`, also answers what was asked about a part of it, and the other way round; one that names
/// nothing answers only where the question was asked once. Where an answer says what facts it was given for, it
/// answers only while they are the same; the question that comes back says what has changed.
pub(in crate::credit) fn take_answered(case: &Case, found: &mut Vec<Finding>) -> Vec<(usize, Finding)> {
    let questions: Vec<Finding> =
        found.iter().filter(|one| one.severity == Severity::Question).cloned().collect();
    let answer_to = |question: &Finding| {
        case.answers
            .iter()
            .position(|answer| concerns(answer, question, &questions) && holds(answer, question))
    };
    let answered: Vec<(usize, Finding)> =
        questions.iter().filter_map(|one| Some((answer_to(one)?, one.clone()))).collect();
    found.retain(|one| !answered.iter().any(|(_, question)| question == one));
    for (n, answer) in case.answers.iter().enumerate() {
        let of_this: Vec<&Finding> =
            answered.iter().filter(|(by, _)| *by == n).map(|(_, question)| question).collect();
        match (&answer.given, of_this.as_slice()) {
            (None, [first, ..]) => found.extend(without_for(answer, first)),
            (Some(given), []) => {
                // The one it was given for has changed; others under the same path were never meant.
                let mut open = found.iter_mut().filter(|one| concerns(answer, one, &questions));
                if let (Some(only), None) = (open.next(), open.next()) {
                    let now = only.given.clone().unwrap_or_default();
                    let word = format!(
                        "answered here for \u{201c}{}\u{201d}, and the case now says \u{201c}{now}\u{201d}",
                        given.value
                    );
                    only.related.push((given.span, word));
                }
            }
            _ => {}
        }
    }
    answered
}

/// Says whether an answer is to a question by code and path.
fn concerns(answer: &Answer, question: &Finding, all: &[Finding]) -> bool {
    let asked = || all.iter().filter(|one| one.code == question.code).count();
    question.severity == Severity::Question
        && answer.question.value == question.code
        && match (&answer.about, &question.about) {
            // A row may have moved in its list; where the facts agree, the whole it belongs to is enough.
            (Some(given), Some(_)) if question.or_about.iter().any(|other| within(&given.value, other)) => {
                true
            }
            (Some(given), Some(asked)) => {
                let same_facts = answer.given.is_some() && holds(answer, question);
                within(&given.value, asked)
                    || within(asked, &given.value)
                    || same_facts && whole(&given.value) == whole(asked)
            }
            _ => asked() == 1,
        }
}

/// Says whether the facts an answer was given for are still those the question asks about; blanks and signs apart.
fn holds(answer: &Answer, question: &Finding) -> bool {
    let plain = |text: &str| -> String {
        text.replace(".00", "").chars().filter(|c| c.is_alphanumeric()).flat_map(char::to_lowercase).collect()
    };
    match (&answer.given, &question.given) {
        (Some(given), Some(now)) => plain(&given.value) == plain(now),
        _ => true,
    }
}

/// Says whether a path is another one or leads to a part of it.
fn within(path: &str, whole: &str) -> bool {
    path.strip_prefix(whole).is_some_and(|rest| rest.is_empty() || rest.starts_with('.'))
}

/// Returns the head of a path: the item, home or return it lies in.
fn whole(path: &str) -> Vec<&str> {
    path.split('.').take(2).collect()
}

/// Notes that a later change of the case would not bring the question back.
fn without_for(answer: &Answer, question: &Finding) -> Option<Finding> {
    let given = question.given.as_ref()?;
    Some(
        codes::ANSWER_WITHOUT_FOR
            .finding(format!(
                "this answer to `{}` does not say for which facts it was given, so it stays when they change",
                question.code
            ))
            .at(answer.question.span)
            .help(format!("add `for: \"{given}\"`, and the question comes back when that is no longer so")),
    )
}

/// Complains about answers to what is no question.
pub(in crate::credit) fn unknown(case: &Case) -> Vec<Finding> {
    let questions = || codes::questions().map(|one| one.name);
    let unknown = case.answers.iter().filter(|answer| !questions().any(|code| code == answer.question.value));
    unknown
        .map(|answer| {
            let written = &answer.question.value;
            let all: Vec<&str> = questions().collect();
            let known = codes::CODES.iter().any(|code| code.name == written);
            let (message, help) = match known {
                true => (
                    format!("`{written}` is no question, so this answers nothing"),
                    "follow its advice instead; only what is marked `question` can be answered".to_string(),
                ),
                false => (
                    format!("no question has the code `{written}`, so this answers nothing"),
                    match near(written, &all).as_slice() {
                        [] => "write the code that stands in brackets after the word `question`".to_string(),
                        near => format!("did you mean `{}`?", near.join("` or `")),
                    },
                ),
            };
            codes::UNKNOWN_QUESTION.finding(message).at(answer.question.span).help(help)
        })
        .collect()
}
