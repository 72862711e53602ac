//! Whether the firm may write to a client at all, and what stands in the way.
//!
//! Comes in: the engagement as the case records it, and the date of the letters. Goes out: nothing, or why not.
//!
//! A preparer who uses what clients furnished for their returns for anything but preparing them commits an offense
//! (26 U.S.C. 7216, 6713). A reminder picked by "has credit left" uses more than the mailing list that
//! 26 CFR 301.7216-2(n) allows, which may hold names, addresses and the number of the form only (read in its temporary
//! text of 2010; that the picking goes beyond it is our reading). So it takes one of three bases: it is part of
//! preparing the returns, by the engagement letter (Rev. Proc. 2013-14 section 2, as restated; that reminders are
//! covered is our reading); it is part of accounting services by a lawyer or accountant (26 CFR 301.7216-2(h), from
//! memory); or the client has consented in writing (26 CFR 301.7216-3).

use crate::case::{Engagement, ReminderBasis};
use jiff::civil::Date;

/// Why the firm may not write.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NoBasis {
    /// The case names none.
    Unsaid,
    /// The client's consent has no date.
    ConsentUndated,
    /// The client consented only after the date of the letters.
    ConsentLater(Date),
    /// The consent names no last day, and its year is over on this one.
    ConsentLapsed(Date),
    /// Consent or engagement ended on this day.
    Ended(Date),
}

/// Says what stands in the way of writing on a date.
pub fn missing(engagement: Option<&Engagement>, dated: Date) -> Option<NoBasis> {
    let Some(engagement) = engagement else { return Some(NoBasis::Unsaid) };
    let until = engagement.until.as_ref().map(|day| day.value);
    if let Some(until) = until.filter(|until| *until < dated) {
        return Some(NoBasis::Ended(until));
    }
    if engagement.reminder_basis.value != ReminderBasis::Consent {
        return None;
    }
    let Some(consented) = engagement.consented.as_ref().map(|day| day.value) else {
        return Some(NoBasis::ConsentUndated);
    };
    if consented > dated {
        return Some(NoBasis::ConsentLater(consented));
    }
    let last = last_day_of_consent(consented);
    (until.is_none() && last < dated).then_some(NoBasis::ConsentLapsed(last))
}

/// Returns the last day of a consent that names none: it lasts one year (26 CFR 301.7216-3(b)(5), from memory).
fn last_day_of_consent(consented: Date) -> Date {
    let year_on = consented.year().saturating_add(1);
    let same_day = Date::new(year_on, consented.month(), consented.day());
    // Of a consent on February 29 the year is over with February.
    let over = same_day.or_else(|_| Date::new(year_on, 3, 1)).unwrap_or(consented);
    over.yesterday().unwrap_or(over)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::finding::{SourceId, Span, Spanned};
    use jiff::civil::date;

    const TODAY: Date = date(2027, 1, 5);

    fn at<T>(value: T) -> Spanned<T> {
        Spanned::new(value, Span { source: SourceId(0), start: 0, end: 0 })
    }

    fn told(basis: ReminderBasis, consented: Option<Date>, until: Option<Date>) -> Option<NoBasis> {
        let engagement =
            Engagement { reminder_basis: at(basis), consented: consented.map(at), until: until.map(at) };
        missing(Some(&engagement), TODAY)
    }

    #[test]
    fn each_basis_holds_on_its_last_day_and_not_on_the_next() {
        use ReminderBasis::{AccountingServices, Consent, Preparation};
        assert_eq!(missing(None, TODAY), Some(NoBasis::Unsaid));
        let eve = date(2027, 1, 4);
        for basis in [Preparation, AccountingServices] {
            assert_eq!(told(basis, None, None), None);
            assert_eq!(told(basis, None, Some(TODAY)), None);
            assert_eq!(told(basis, None, Some(eve)), Some(NoBasis::Ended(eve)));
        }
        assert_eq!(told(Consent, None, None), Some(NoBasis::ConsentUndated));
        assert_eq!(told(Consent, Some(TODAY), None), None);
        let later = date(2027, 1, 6);
        assert_eq!(told(Consent, Some(later), None), Some(NoBasis::ConsentLater(later)));
        assert_eq!(told(Consent, Some(date(2020, 3, 1)), Some(TODAY)), None);
        assert_eq!(told(Consent, Some(date(2020, 3, 1)), Some(eve)), Some(NoBasis::Ended(eve)));
    }

    #[test]
    fn a_consent_without_a_last_day_lasts_a_year() {
        let consent = |day| told(ReminderBasis::Consent, Some(day), None);
        assert_eq!(consent(date(2026, 1, 6)), None);
        assert_eq!(consent(date(2026, 1, 5)), Some(NoBasis::ConsentLapsed(date(2027, 1, 4))));
        assert_eq!(last_day_of_consent(date(2024, 2, 29)), date(2025, 2, 28));
        assert_eq!(last_day_of_consent(date(2024, 3, 1)), date(2025, 2, 28));
    }
}
