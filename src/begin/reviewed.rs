//! What a careful reviewer would ask of the answers so far: the questions of `check`, asked here while the papers lie
//! on the desk.
//!
//! Comes in: the case so far, computed. Goes out: answers as a case holds them. An answer changes no figure.

use super::asking::{Conversation, Question, Stop};
use super::draft::{Draft, Settled};
use super::yaml;
use crate::case::single::Form;
use crate::finding::{Finding, Severity};
use crate::wording::capital;

/// Asks what `check` would ask, and completes what was answered on the way.
pub(super) fn ask(i: &mut Conversation<'_>, draft: &mut Draft) -> Result<(), Stop> {
    let known = std::mem::take(&mut draft.settled);
    let computed = i.computed(&yaml::write(draft, i.today))?;
    i.heading(
        "What a reviewer would ask. An answer is printed with the figures and changes none;\n\
         if it does not fit what was entered, leave it open and change that part at the end.",
    );
    for finding in computed.outcome.findings.iter().filter(|one| one.severity == Severity::Question) {
        let Some(about) = &finding.about else { continue };
        // Its question was left out a moment ago; it stays open in the case.
        if ASKED.contains(&finding.code) {
            continue;
        }
        let answered = known.iter().find(|one| one.question == finding.code && one.about == *about);
        let answer = match answered {
            Some(answered) => Some(answered.answer.clone()),
            None => i.maybe(question(finding, about))?,
        };
        draft.settled.extend(answer.map(|answer| Settled {
            question: finding.code,
            about: about.clone(),
            given: finding.given.clone(),
            answer,
        }));
    }
    Ok(())
}

/// Questions about what is asked for on the way.
const ASKED: [&str; 3] = ["missing-materials-share", "standard-unsaid", "worksheet-b-unsaid"];

fn question(finding: &Finding, about: &str) -> Question {
    let mut explain = String::from("Left open, `check` will ask it.");
    if let Some(help) = &finding.help {
        explain.push_str(&format!(" In the file: {help}."));
    }
    if !finding.authority.is_empty() {
        explain.push_str(&format!(" Law: {}.", finding.authority.join("; ")));
    }
    // With the facts in its name, the question comes again when they change.
    let id = format!("answers.{}@{about}:{}", finding.code, finding.given.as_deref().unwrap_or(""));
    Question::value(id, capital(&finding.message), Form::Line).explain(explain)
}
