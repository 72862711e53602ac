//! What a case says already of what a column asks.
//!
//! Comes in: a case and a column. Goes out: the value as the column would have it, with its place.

use super::columns::Field;
use super::values::written;
use crate::case::{Case, OtherCredit, TaxReturn, TaxYear};
use crate::finding::{Span, Spanned};
use crate::money::Money;

/// A value of a case.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Said {
    pub text: String,
    /// Where; none for what is meant where nothing is said.
    pub span: Option<Span>,
}

fn text<T: ToString>(one: &Spanned<T>) -> Option<Said> {
    Some(Said { text: one.value.to_string(), span: Some(one.span) })
}

fn amount(one: &Spanned<Money>) -> Option<Said> {
    Some(Said { text: written(one.value), span: Some(one.span) })
}

/// Returns what a case says; none where it says nothing.
pub(super) fn said(case: &Case, year: Option<TaxYear>, field: Field) -> Option<Said> {
    let client = &case.client;
    let unsaid = |text: &str| Some(Said { text: text.to_string(), span: None });
    match field {
        Field::Reference => text(&client.reference),
        Field::Name => text(&client.people.first()?.name),
        Field::LastFour => masked(client.people.first()?.tin.as_ref()?),
        Field::Spouse => text(&client.people.get(1)?.name),
        Field::SpouseLastFour => masked(client.people.get(1)?.tin.as_ref()?),
        Field::Street => text(&client.mail_to.as_ref()?.street),
        Field::Unit => text(client.mail_to.as_ref()?.unit.as_ref()?),
        Field::City => text(&client.mail_to.as_ref()?.city),
        Field::State => text(&client.mail_to.as_ref()?.state),
        Field::Zip => text(&client.mail_to.as_ref()?.zip),
        Field::Language => unsaid(client.language.word()),
        Field::Delivery => unsaid(client.delivery.word()),
        Field::ReminderBasis => text(&client.engagement.as_ref()?.reminder_basis),
        Field::Consented => text(client.engagement.as_ref()?.consented.as_ref()?),
        Field::Until => text(client.engagement.as_ref()?.until.as_ref()?),
        Field::HomeUse => text(&case.homes.first()?.uses.last()?.is),
        Field::HeldAs => text(&case.homes.first()?.held_as),
        Field::HomeStreet => text(&case.homes.first()?.address.street),
        Field::HomeUnit => text(case.homes.first()?.address.unit.as_ref()?),
        Field::HomeCity => text(&case.homes.first()?.address.city),
        Field::HomeState => text(case.homes.first()?.address.state.as_ref()?),
        Field::HomeZip => text(case.homes.first()?.address.zip.as_ref()?),
        Field::PreparedBy => text(case.prepared.as_ref()?.by.as_ref()?),
        Field::Year => None,
        Field::Balance => amount(&case.carried_in(year?)?.amount),
        Field::ShownOn => text(case.carried_in(year?)?.shown_on.as_ref()?),
        Field::BelongsTo => text(case.carried_in(year?)?.belongs_to.as_ref()?),
        _ => of_return(case.tax_return(year?)?, field),
    }
}

fn of_return(one: &TaxReturn, field: Field) -> Option<Said> {
    let claimed = one.claimed.as_ref();
    let credit = |credit: OtherCredit| one.other_credits.iter().find(|entry| entry.credit.value == credit);
    match field {
        Field::Form => text(&one.form),
        Field::Stage => text(&one.stage),
        Field::FilingStatus => text(&one.filing_status),
        Field::Filed => text(one.filed.as_ref()?),
        Field::TaxBeforeCredits => amount(&one.tax_before_credits),
        Field::Credit(which) => amount(&credit(which)?.amount),
        Field::WorksheetB => amount(credit(OtherCredit::ChildTax)?.worksheet_b.as_ref()?),
        Field::ClaimedImprovement => amount(claimed?.improvement.as_ref()?),
        Field::ClaimedClean => amount(claimed?.clean.as_ref()?),
        Field::ClaimedCarriedOut => amount(claimed?.carried_out.as_ref()?),
        Field::ClaimedBecause => text(claimed?.because.as_ref()?),
        Field::Rounding => Some(Said { text: one.rounding.to_string(), span: None }),
        _ => None,
    }
}

/// A masked number with the mask that columns have.
fn masked(tin: &Spanned<String>) -> Option<Said> {
    let digits: String = tin.value.chars().filter(char::is_ascii_digit).collect();
    Some(Said { text: format!("***-**-{digits}"), span: Some(tin.span) })
}
