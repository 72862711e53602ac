//! Single words: amounts, dates and the rest as they stand in a case; places of lines; light Markdown; cells.

use super::case::told;
use gablework::case::TaxYear;
use gablework::case::single::{self, Form};
use gablework::credit::Place;
use gablework::document::{Block, Document, Setting, plain};
use gablework::letter::markup;
use gablework::money::{Money, Quantity, Rate};
use gablework::{docx, html, law::Law};
use jiff::civil::date;

const FORMS: [Form; 12] = [
    Form::Line,
    Form::Amount,
    Form::Percentage,
    Form::Quantity,
    Form::Count,
    Form::Date,
    Form::Reference,
    Form::LastFour,
    Form::State,
    Form::Zip,
    Form::MakerCode,
    Form::Line,
];

/// A value as typed: what is taken is taken again as it then stands, and amounts are exact.
pub fn values(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else { return };
    for form in FORMS {
        match single::read(form, text) {
            Ok(stands) => assert_eq!(single::read(form, &stands).as_deref(), Ok(stands.as_str()), "{form:?}"),
            Err(refusal) => {
                assert!(!refusal.message.is_empty());
                if let Some(instead) = &refusal.instead {
                    assert!(
                        single::read(form, instead).is_ok(),
                        "{form:?}: {instead} is advised and refused"
                    );
                }
            }
        }
    }
    if let Ok(money) = Money::read(text) {
        assert_eq!(Money::read(&money.plain()), Ok(money));
        assert_eq!(Money::read(&money.grouped()), Ok(money));
        assert_eq!(Money::read(&money.spoken()), Ok(money));
        assert!(!money.is_negative() && money.to_cents() == money);
        let digits = |text: &str| text.chars().filter(char::is_ascii_digit).collect::<String>();
        let written = digits(text.split('.').next().unwrap_or_default());
        let read = digits(money.plain().split('.').next().unwrap_or_default());
        assert_eq!(written.trim_start_matches('0'), read.trim_start_matches('0'), "{text}");
    }
    if let Ok(rate) = Rate::read(text) {
        assert_eq!(Rate::read(&rate.to_string()), Ok(rate));
        assert!(rate <= Rate::WHOLE && rate >= Rate::NOTHING);
        let _ = rate.of(Money::cents(99_999_999_999_999)).to_cents().plain();
    }
    if let Ok(quantity) = Quantity::read(text) {
        assert_eq!(Quantity::read(&quantity.to_string()), Ok(quantity));
    }
    let hidden = single::without_numbers(text);
    assert_eq!(hidden.len(), text.len());
    assert!(!super::case::holds_full_number(&hidden) || text == hidden, "{hidden}");
}

/// The place of a line, as `why` takes it.
pub fn places(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else { return };
    let Some(place) = Place::read(text, TaxYear(2025)) else { return };
    let written = place.to_string();
    assert_eq!(Place::read(&written, TaxYear(2020)).as_ref(), Some(&place), "{text} becomes {written}");
    let _ = (place.line.label(), place.line.kind(), Law::built_in().year(place.year));
}

/// Light Markdown, as an author writes it and as a value brings it in.
pub fn markup(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else { return };
    match markup::blocks(text) {
        Ok(blocks) => {
            let document = Document { setting: Setting::Letter, blocks, ..Document::default() };
            html::write(&document);
            docx::write(&document, date(2026, 11, 12)).expect("a word processor's file");
        }
        Err(refused) => {
            for one in refused {
                assert!(text.get(one.range.clone()).is_some(), "{one:?} points beside the text");
            }
        }
    }
    let value: String = text.split_whitespace().collect::<Vec<_>>().join(" ");
    // What the reader of cases refuses, such as a character for private use, never comes this far.
    if value.is_empty() || single::read(Form::Line, &value).is_err() {
        return;
    }
    let found =
        markup::blocks(&markup::escape(&value)).unwrap_or_else(|refused| panic!("{value:?}: {refused:?}"));
    assert_eq!(found, [Block::Paragraph(plain(&value))], "{value:?}");
}

/// Words that become cells of a CSV file.
pub fn cells(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else { return };
    let text: String = text.chars().filter(|c| *c != '\'' && *c != '\\').collect();
    let case = format!(
        "{}property:\n  a:\n    kind: solar_electric\n    home: h\n    part_of: existing_home\n    acquired: bought\n    \
         condition: new\n    installed: 2024-05-01\n    costs: [{{item: '{text}', as: equipment, amount: 100}}]\n",
        super::household::HEAD
    );
    let computed = told(case.as_bytes());
    if computed.case.is_some() {
        let csv = gablework::sheet::data::figures_csv(TaxYear(2024), &computed.outcome);
        let figures = computed.outcome.figures.of_year(TaxYear(2024)).len();
        assert_eq!(csv.matches("\r\n").count(), figures + 1);
    }
}
