//! Questions about papers: which shows an amount, whether it is on file, and where.

use super::asking::{Choice, Conversation, Question, Stop};
use super::draft::{Draft, Paper};
use super::terms;
use crate::case::EvidenceKind;
use crate::case::single::Form;

/// Asks which paper shows something; a new one is taken down. `likely` is its kind if it is new.
pub(super) fn which(
    i: &mut Conversation<'_>,
    draft: &mut Draft,
    id: &str,
    likely: EvidenceKind,
    before: Option<&str>,
) -> Result<Option<String>, Stop> {
    let mut choices: Vec<Choice> = draft.papers.iter().map(|one| Choice::new(&one.key, one.name())).collect();
    choices.push(Choice::new("+likely", format!("a new paper: {}", likely.label())));
    choices.push(Choice::new("+new", "a new paper of another kind"));
    choices.push(Choice::new("+none", "none yet"));
    let question = Question::choice(format!("{id}.paper"), "Which paper shows it?", choices);
    let chosen = i.ask(question.or(before.unwrap_or("+likely")).explain(terms::PAPER))?;
    match chosen.as_str() {
        "+none" => Ok(None),
        "+likely" => new(i, draft, &format!("{id}.paper"), likely).map(Some),
        "+new" => {
            let kind = kind(i, &format!("{id}.paper"))?;
            new(i, draft, &format!("{id}.paper"), kind).map(Some)
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
        let more = Question::yes_no(format!("papers.{n}.more"), words, false).explain(terms::PAPER);
        if !i.yes_no(more)? {
            break;
        }
        let kind = kind(i, &format!("papers.{n}"))?;
        new(i, draft, &format!("papers.{n}"), kind)?;
    }
    Ok(())
}

fn kind(i: &mut Conversation<'_>, id: &str) -> Result<EvidenceKind, Stop> {
    let choices = EvidenceKind::ALL.iter().map(|one| Choice::new(one.word(), one.label())).collect();
    let explain = "Invoices that list goods and labor apart serve best. A proof of payment alone does not show what was bought.";
    let question = Question::choice(format!("{id}.type"), "What kind of paper?", choices).explain(explain);
    Ok(EvidenceKind::from_word(&i.ask(question)?).unwrap_or(EvidenceKind::Other))
}

fn new(i: &mut Conversation<'_>, draft: &mut Draft, id: &str, kind: EvidenceKind) -> Result<String, Stop> {
    let on_file = Question::yes_no(format!("{id}.on_file"), "Is it on file?", true)
        .explain("No means that it is still to come; the list of missing papers will name it.");
    let on_file = i.yes_no(on_file)?;
    let place =
        Question::value(format!("{id}.where"), "Where is it kept?", Form::Line).explain("Such as: binder 3.");
    let kept_at = if on_file { i.maybe(place)? } else { None };
    let number = 1 + draft.papers.iter().filter(|one| one.kind == kind).count();
    let key = format!("{}-{number}", kind.word().replace('_', "-"));
    draft.papers.push(Paper { key: key.clone(), kind, on_file, kept_at });
    Ok(key)
}
