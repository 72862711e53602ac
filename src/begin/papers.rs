//! Questions about papers: which shows an amount, whether it is on file, and where.

use super::asking::{Choice, Conversation, Question, Stop};
use super::draft::{Draft, Paper};
use super::terms;
use crate::case::EvidenceKind;
use crate::case::single::Form;

/// The words of a choice that stand for no paper yet known.
pub(super) const LIKELY: &str = "+likely";
const NEW: &str = "+new";
pub(super) const NONE: &str = "+none";

/// Asks which paper shows something; a new one is taken down. `likely` is its kind if it is new, `usual` what Enter
/// takes.
pub(super) fn which(
    i: &mut Conversation<'_>,
    draft: &mut Draft,
    (id, words): (&str, &str),
    likely: EvidenceKind,
    usual: &str,
) -> Result<Option<String>, Stop> {
    let mut choices: Vec<Choice> = draft.papers.iter().map(|one| Choice::new(&one.key, one.name())).collect();
    choices.push(Choice::new(LIKELY, format!("a new paper: {}", likely.label())));
    choices.push(Choice::new(NEW, "a new paper of another kind"));
    choices.push(Choice::new(NONE, "none yet"));
    let id = format!("{id}.paper");
    let question =
        Question::choice(&id, words, choices).or(usual).explain(terms::PAPER).decides(format!("{id}."));
    match i.ask(question)?.as_str() {
        NONE => Ok(None),
        LIKELY => new(i, draft, &id, likely).map(Some),
        NEW => {
            let kind = kind(i, &id)?;
            new(i, draft, &id, kind).map(Some)
        }
        known => Ok(Some(known.to_string())),
    }
}

/// Asks for papers that belong to no single amount.
pub(super) fn others(i: &mut Conversation<'_>, draft: &mut Draft) -> Result<(), Stop> {
    i.heading("Other papers");
    for n in 1.. {
        let words = match n {
            1 => "Are there other papers to note, such as proof of the home or the maker's statement?",
            _ => "Another one?",
        };
        let mut choices = vec![Choice::new("no", if n == 1 { "no" } else { "no more" })];
        choices.extend(kinds());
        let id = format!("papers.{n}");
        let question = Question::choice(format!("{id}.type"), words, choices).or("no");
        let chosen = i.ask(question.explain(terms::PAPER).decides(format!("{id}.")))?;
        let Some(kind) = EvidenceKind::from_word(&chosen) else { break };
        new(i, draft, &id, kind)?;
    }
    Ok(())
}

fn kinds() -> impl Iterator<Item = Choice> {
    EvidenceKind::ALL.iter().map(|one| Choice::new(one.word(), one.label()))
}

fn kind(i: &mut Conversation<'_>, id: &str) -> Result<EvidenceKind, Stop> {
    let explain = "Invoices that list goods and labor apart serve best. A proof of payment alone does not show what was bought.";
    let question = Question::choice(format!("{id}.type"), "What kind of paper?", kinds().collect());
    Ok(EvidenceKind::from_word(&i.ask(question.explain(explain))?).unwrap_or(EvidenceKind::Other))
}

/// Asks where a paper is kept, which says too whether there is one. No place is offered for it: that of another paper,
/// taken by Enter, would say of a paper that never came that it is on file.
fn new(i: &mut Conversation<'_>, draft: &mut Draft, id: &str, kind: EvidenceKind) -> Result<String, Stop> {
    let words = "Where is it kept, such as binder 3? Write no if it is not on file";
    let question = Question::value(format!("{id}.where"), words, Form::Line)
        .and_read(|typed| match typed.to_lowercase().as_str() {
            "no" | "n" | "missing" | "not yet" => Ok("no".to_string()),
            "y" | "yes" => Ok("yes".to_string()),
            _ => Ok(typed.to_string()),
        })
        .explain(
            "No means that it is still to come; the list of missing papers will name it. Yes, or left out, it is on file \
             and the case does not say where.",
        );
    let answer = i.maybe(question)?;
    let on_file = answer.as_deref() != Some("no");
    let kept_at = answer.filter(|place| place != "no" && place != "yes");
    let number = 1 + draft.papers.iter().filter(|one| one.kind == kind).count();
    let key = format!("{}-{number}", kind.word().replace('_', "-"));
    draft.papers.push(Paper { key: key.clone(), kind, on_file, kept_at });
    Ok(key)
}
