//! The words that values bring into letters, in the language of the letter.
//!
//! Comes in: English words with blanks, written `{}`, and what fills them. Goes out: the same in the letter's
//! language. For every language but English the words stand in one table, `letters/LANGUAGE/words.yaml`. Knows
//! neither figures nor the case; money is written the American way in every language.

use crate::case::Language;
use jiff::civil::Date;
use std::collections::BTreeMap;

/// The words of one language, by the English ones.
pub(super) type Table = BTreeMap<String, String>;

/// A language with its words.
#[derive(Clone, Copy, Debug)]
pub(super) struct Speech<'t> {
    /// Which language.
    pub language: Language,
    /// Its words; English needs none.
    pub table: Option<&'t Table>,
}

/// Everything the program itself puts into letters, besides labels, papers and reasons, which have tables of their
/// own. A table of words must hold each.
#[cfg(test)]
pub(super) const PHRASES: &[&str] = &[
    "To the family of {}",
    "Logo of {}",
    "Our reference: {}",
    "Tax year {}",
    "{}, tax year {}",
    "Page {page} of {pages}",
    "DRAFT",
    "Sincerely,",
    "Enclosed: {}",
    "This letter is a correction. It replaces what we wrote to you on {} about tax year {} (our packet {}).",
    "This letter is a correction. It replaces what we wrote to you before about tax year {} (our packet {}).",
    "{}, line {}",
    "{}, {}",
    "For {}",
    "For each year",
    "From {} on",
    "From {} through {}",
    "finished {}",
    "in use from {}",
    "paid {}",
    "our judgment: {}",
    "{} carried forward",
    "no end date yet",
    "at least until {}",
    "as long as you own the home",
    "as long as any of the credit is left, and for three years after the return that uses the last of it",
    "at least three years after you filed them",
    "By our figures, part of the credit is still unused after the {} return. The IRS can look at the work again while a return that uses the credit is open.",
    "That is three years after the {} return is due. If you file it later, count three years from that day.",
    "That is three years after the {} return was filed or due. By our figures, it is the last one to use this credit.",
    "That is two years after the last payment for {}. By our figures, it is the last year to use this credit.",
    "No credit came of this work, but its papers show what the home cost you.",
];

/// An entry with blanks must say at least so much to be taken for a text; `{}, {}` would fit nearly any.
const LEAST_LETTERS: usize = 6;

/// Lines and forms as official papers name them, where another language names them otherwise.
const FORM_WORDS: &[(&str, &str)] =
    &[("Form ", "Formulario "), ("Schedule ", "Anexo "), (", line ", ", línea ")];

impl Speech<'_> {
    /// Says English words in this language, and fills the blanks in order.
    ///
    /// Words that the table does not hold stay English; tests and the reading of the table see that none do.
    pub fn say(&self, english: &str, fills: &[&str]) -> String {
        let words = match self.table {
            Some(table) => table.get(english).map_or(english, String::as_str),
            None => english,
        };
        let mut out = String::with_capacity(words.len() + 16);
        let mut fills = fills.iter();
        let mut rest = words;
        while let Some(at) = rest.find("{}") {
            out.push_str(&rest[..at]);
            out.push_str(fills.next().copied().unwrap_or(""));
            rest = &rest[at + 2..];
        }
        out + rest
    }

    /// Says a whole text of the law or of a label: its words where the table holds them, or those of the longest
    /// entry with blanks that it fits. Days in digits are written out.
    pub fn tell(&self, english: &str) -> String {
        let Some(table) = self.table else {
            return self.dates_written(english);
        };
        self.translated(table, english, 0).unwrap_or_else(|| self.dates_written(english))
    }

    /// Says whether the table has words for a whole text.
    #[cfg(test)]
    pub fn knows(&self, english: &str) -> bool {
        self.table.is_none_or(|table| self.translated(table, english, 0).is_some())
    }

    fn translated(&self, table: &Table, english: &str, depth: u8) -> Option<String> {
        if let Some(words) = table.get(english) {
            return Some(words.clone());
        }
        // What fills a blank may have a blank of its own, such as a label with a day; deeper than that nothing goes.
        if depth > 2 {
            return None;
        }
        let fitting = table
            .iter()
            .filter(|(pattern, _)| pattern.chars().filter(|c| c.is_alphabetic()).count() >= LEAST_LETTERS)
            .filter_map(|(pattern, words)| Some((pattern, words, fitted(pattern, english)?)));
        let (_, words, fills) = fitting.max_by_key(|(pattern, ..)| pattern.len())?;
        let said: Vec<String> = fills
            .into_iter()
            .map(|fill| self.translated(table, fill, depth + 1).unwrap_or_else(|| self.dates_written(fill)))
            .collect();
        let said: Vec<&str> = said.iter().map(String::as_str).collect();
        let mut out = String::new();
        let mut said = said.iter();
        let mut rest = words.as_str();
        while let Some(at) = rest.find("{}") {
            out.push_str(&rest[..at]);
            out.push_str(said.next().copied().unwrap_or(""));
            rest = &rest[at + 2..];
        }
        Some(out + rest)
    }

    /// Names the place of a line on an official form.
    pub fn form(&self, english: &str) -> String {
        match self.language {
            Language::En => english.to_string(),
            Language::Es => {
                FORM_WORDS.iter().fold(english.to_string(), |words, (from, to)| words.replace(from, to))
            }
        }
    }

    /// Writes a date out: `November 25, 2026`, `25 de noviembre de 2026`.
    pub fn date(&self, day: Date) -> String {
        let month = day.month() as usize - 1;
        match self.language {
            Language::En => format!("{} {}, {}", MONTHS[month], day.day(), day.year()),
            Language::Es if day.day() == 1 => format!("1.º de {} de {}", MESES[month], day.year()),
            Language::Es => format!("{} de {} de {}", day.day(), MESES[month], day.year()),
        }
    }

    /// Writes out every date of a text that stands there as year, month and day in digits.
    pub fn dates_written(&self, text: &str) -> String {
        let mut out = String::new();
        let mut rest = text;
        while let Some(at) = rest.find(|c: char| c.is_ascii_digit()) {
            out.push_str(&rest[..at]);
            rest = &rest[at..];
            let day = rest
                .get(..10)
                .filter(|day| day.as_bytes()[4] == b'-')
                .and_then(|day| day.parse::<Date>().ok());
            if let Some(day) = day {
                out.push_str(&self.date(day));
                rest = &rest[10..];
            } else {
                let end = rest.find(|c: char| !c.is_ascii_digit()).unwrap_or(rest.len());
                out.push_str(&rest[..end]);
                rest = &rest[end..];
            }
        }
        out + rest
    }

    /// Joins words as people say them: commas, and a last `and`.
    pub fn joined(&self, words: &[String]) -> String {
        let and = |last: &str| match self.language {
            Language::En => "and",
            Language::Es => y_or_e(last),
        };
        match words {
            [] => String::new(),
            [one] => one.clone(),
            [one, two] => format!("{one} {} {two}", and(two)),
            // American English puts a comma before the last `and`, Spanish puts none.
            [most @ .., last] => {
                let comma = if self.language == Language::En { "," } else { "" };
                format!("{}{comma} {} {last}", most.join(", "), and(last))
            }
        }
    }

    /// Begins a letter to people, without the mark that ends the line.
    pub fn dear(&self, names: &[String]) -> String {
        let greeting = match (self.language, names.len()) {
            (Language::En, _) => "Dear",
            // The case does not say whether a person is addressed as a woman or as a man.
            (Language::Es, 1) => "Estimado(a)",
            (Language::Es, _) => "Estimados(as)",
        };
        format!("{greeting} {}", self.joined(names))
    }

    /// Writes a small number in words, as it stands before a thing counted.
    pub fn count(&self, number: usize) -> String {
        let words = match self.language {
            Language::En => NUMBERS,
            Language::Es => NUMEROS,
        };
        words.get(number).map_or_else(|| number.to_string(), |word| (*word).to_string())
    }
}

/// The Spanish `and` before a word: `e` before the sound of `i`, `y` otherwise, also before `hie`.
fn y_or_e(word: &str) -> &'static str {
    let word = word.trim_start_matches(|c: char| !c.is_alphanumeric()).to_lowercase();
    let sounds_like_i = word.starts_with(['i', 'í'])
        || (word.starts_with("hi") && !word.starts_with("hie"))
        || word.starts_with("hí");
    if sounds_like_i { "e" } else { "y" }
}

/// Returns what fills the blanks of a pattern, where a text fits it; the shortest fill for each blank but the last.
fn fitted<'t>(pattern: &str, text: &'t str) -> Option<Vec<&'t str>> {
    let mut pieces = pattern.split("{}");
    let mut rest = text.strip_prefix(pieces.next()?)?;
    let mut pieces = pieces.peekable();
    let mut fills = Vec::new();
    pieces.peek()?;
    while let Some(piece) = pieces.next() {
        let at = if pieces.peek().is_none() {
            rest.ends_with(piece).then(|| rest.len() - piece.len())?
        } else {
            rest.find(piece)?
        };
        fills.push(&rest[..at]);
        rest = &rest[at + piece.len()..];
    }
    Some(fills)
}

const MONTHS: [&str; 12] = [
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
];
const MESES: [&str; 12] = [
    "enero",
    "febrero",
    "marzo",
    "abril",
    "mayo",
    "junio",
    "julio",
    "agosto",
    "septiembre",
    "octubre",
    "noviembre",
    "diciembre",
];
const NUMBERS: &[&str] = &[
    "no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve",
];
const NUMEROS: &[&str] = &[
    "ningún", "un", "dos", "tres", "cuatro", "cinco", "seis", "siete", "ocho", "nueve", "diez", "once",
    "doce",
];

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    const ENGLISH: Speech<'static> = Speech { language: Language::En, table: None };

    fn table() -> Table {
        let words = [
            ("{} must be new", "{} tiene que ser nuevo"),
            ("heat pump", "una bomba de calor"),
            ("labor never counts", "la mano de obra nunca cuenta"),
            ("{} was complete on {}; it ended ({})", "{} se terminó el {}; ya no existía ({})"),
            ("paid {}", "pagado el {}"),
        ];
        words.into_iter().map(|(english, spanish)| (english.to_string(), spanish.to_string())).collect()
    }

    #[test]
    fn dates_are_written_out() {
        let spanish = Speech { language: Language::Es, table: None };
        assert_eq!(ENGLISH.date(date(2026, 11, 25)), "November 25, 2026");
        assert_eq!(spanish.date(date(2026, 11, 25)), "25 de noviembre de 2026");
        assert_eq!(spanish.date(date(2027, 3, 1)), "1.º de marzo de 2027");
        assert_eq!(
            ENGLISH.dates_written("complete on 2026-02-03; after 2025-12-31, 25D, 5695"),
            "complete on February 3, 2026; after December 31, 2025, 25D, 5695"
        );
        assert_eq!(ENGLISH.dates_written("Muñoz 12é2026-01-0"), "Muñoz 12é2026-01-0");
    }

    #[test]
    fn names_are_joined_as_people_say_them() {
        let words = |list: &[&str]| list.iter().map(|one| one.to_string()).collect::<Vec<_>>();
        let spanish = Speech { language: Language::Es, table: None };
        for (list, english, said) in [
            (&[][..], "", ""),
            (&["A"][..], "A", "A"),
            (&["Ana", "Luis"][..], "Ana and Luis", "Ana y Luis"),
            (&["Ana", "Inés"][..], "Ana and Inés", "Ana e Inés"),
            (&["Ana", "Hilario"][..], "Ana and Hilario", "Ana e Hilario"),
            (&["agua", "hielo"][..], "agua and hielo", "agua y hielo"),
            (&["A", "B", "C"][..], "A, B, and C", "A, B y C"),
        ] {
            assert_eq!(ENGLISH.joined(&words(list)), english);
            assert_eq!(spanish.joined(&words(list)), said);
        }
    }

    #[test]
    fn whole_texts_find_their_words_also_with_blanks() {
        let table = table();
        let spanish = Speech { language: Language::Es, table: Some(&table) };
        assert_eq!(spanish.tell("labor never counts"), "la mano de obra nunca cuenta");
        assert_eq!(spanish.tell("heat pump must be new"), "una bomba de calor tiene que ser nuevo");
        assert_eq!(
            spanish.tell("heat pump was complete on 2026-02-03; it ended (25C)"),
            "una bomba de calor se terminó el 3 de febrero de 2026; ya no existía (25C)"
        );
        assert!(!spanish.knows("our own words"));
        assert_eq!(spanish.tell("our own words of 2026-02-03"), "our own words of 3 de febrero de 2026");
        assert_eq!(spanish.say("paid {}", &["hoy"]), "pagado el hoy");
        assert_eq!(ENGLISH.say("{}, line {}", &["Form 5695", "16"]), "Form 5695, line 16");
    }

    #[test]
    fn forms_are_named_as_the_papers_of_the_language_name_them() {
        let spanish = Speech { language: Language::Es, table: None };
        assert_eq!(spanish.form("Schedule 3 (Form 1040), line 5a"), "Anexo 3 (Formulario 1040), línea 5a");
    }
}
