//! The words of an assumption and what it comes to, in the client's language. In a new language the compiler asks for
//! each of them.

use crate::case::Language;

/// The words; `{}` stands where something is filled in.
pub(super) struct Words {
    pub title: &'static str,
    pub subject: &'static str,
    pub example: &'static str,
    pub balance: &'static str,
    pub first_way: &'static str,
    pub second_way: &'static str,
    pub what_if: &'static str,
    pub year: &'static str,
    pub tax: &'static str,
    pub other: &'static str,
    pub tax_left: &'static str,
    pub available: &'static str,
    pub used: &'static str,
    pub left: &'static str,
    pub used_up: &'static str,
    pub some_left: &'static str,
    pub assumed: &'static str,
    pub from_return: &'static str,
    pub planned: &'static str,
    pub other_assumed: &'static str,
    pub not_needed: &'static str,
    pub table: &'static str,
    pub cautions_head: &'static str,
    pub cautions: &'static [&'static str],
    pub head: &'static str,
    pub foot: &'static str,
    pub and: &'static str,
}

/// Returns the words of a language.
pub(super) fn of(language: Language) -> &'static Words {
    match language {
        Language::En => &ENGLISH,
        Language::Es => &SPANISH,
    }
}

/// Fills the blanks in order.
pub(super) fn filled(words: &str, fills: &[&str]) -> String {
    let mut parts = words.split("{}");
    let mut out = parts.next().unwrap_or_default().to_string();
    for (part, fill) in parts.zip(fills) {
        out.push_str(fill);
        out.push_str(part);
    }
    out
}

static ENGLISH: Words = Words {
    title: "What if: your clean energy credit in the years to come",
    subject: "What if, tax year {} on",
    example: "This is an example, not a forecast or a promise.",
    balance: "For {}: {} of the credit could be used from {} on, if the tax before credits is as assumed here.",
    first_way: "First assumption",
    second_way: "Second assumption",
    what_if: "Year by year",
    year: "Tax year",
    tax: "Tax",
    other: "Other credits",
    tax_left: "Tax left",
    available: "To use",
    used: "Used",
    left: "Left",
    used_up: "On this assumption, the {} return would use the last of the credit.",
    some_left: "On this assumption, {} of the credit would be left after {}.",
    assumed: "Assumed here: the tax of {}.",
    from_return: "Not assumed, from the file: the tax expected on the return of {}, which is not filed.",
    planned: "Not assumed, from the file: the tax planned for {}.",
    other_assumed: "Assumed of other credits that come first: {} in {}.",
    not_needed: "Not needed, because nothing would be left: {}.",
    table: "What each year would use of the credit, if the tax is as assumed",
    cautions_head: "Please note",
    cautions: &[
        "All amounts are hypothetical; nothing on a return is based on them. Nobody knows the tax of years to come, and the law can change.",
        "The credit can bring your federal income tax to zero, not below. Other credits come first. Credit beyond your tax is not paid out.",
        "More income in a year can use the credit sooner. But you pay tax on it, and more income can lower other credits, raise state tax or Medicare premiums, or make more Social Security taxable. Credit that you use later is not lost.",
        "File Form 5695 with your return each year until the credit is used up. Please call us before you move income from one year to another.",
        "This page does not cover state tax. It is not tax or legal advice; the official form and its instructions, and a licensed preparer, decide.",
    ],
    head: "Residential clean energy credit: what if, {}",
    foot: "Page {page} of {pages}",
    and: "and",
};

static SPANISH: Words = Words {
    title: "Un ejemplo: su crédito por energía limpia en los próximos años",
    subject: "Un ejemplo, desde el año tributario {}",
    example: "Esto es un ejemplo, no un pronóstico ni una promesa.",
    balance: "Para {}: {} del crédito podrían usarse desde {}, si el impuesto antes de créditos es como se supone aquí.",
    first_way: "Primera suposición",
    second_way: "Segunda suposición",
    what_if: "Año por año",
    year: "Año tributario",
    tax: "Impuesto",
    other: "Otros créditos",
    tax_left: "Impuesto que queda",
    available: "Por usar",
    used: "Usado",
    left: "Queda",
    used_up: "Con esta suposición, la declaración de {} usaría lo último del crédito.",
    some_left: "Con esta suposición, quedarían {} del crédito después de {}.",
    assumed: "Se supone aquí: el impuesto de {}.",
    from_return: "No se supone, es del expediente: el impuesto esperado en la declaración de {}, que no se ha presentado.",
    planned: "No se supone, es del expediente: el impuesto planeado para {}.",
    other_assumed: "Se supone de otros créditos que van antes: {} en {}.",
    not_needed: "No hacen falta, porque no quedaría nada: {}.",
    table: "Lo que cada año usaría del crédito, si el impuesto es como se supone",
    cautions_head: "Tenga en cuenta",
    cautions: &[
        "Todas las cantidades son hipotéticas; ninguna declaración se basa en ellas. Nadie sabe cuál será el impuesto de los próximos años, y la ley puede cambiar.",
        "El crédito puede reducir su impuesto federal sobre los ingresos a cero, no a menos. Otros créditos van antes. El crédito que pase de su impuesto no se paga.",
        "Más ingresos en un año pueden usar el crédito antes. Pero usted paga impuesto sobre ellos, y más ingresos pueden reducir otros créditos, subir el impuesto estatal o las primas de Medicare, o hacer que más de su Seguro Social pague impuesto. El crédito que usa más tarde no se pierde.",
        "Presente el Formulario 5695 con su declaración cada año hasta que se agote el crédito. Llámenos antes de pasar ingresos de un año a otro.",
        "Esta página no trata del impuesto estatal. No es asesoría tributaria ni legal; deciden el formulario oficial y sus instrucciones, y un preparador con licencia.",
    ],
    head: "Crédito por energía limpia residencial: un ejemplo, {}",
    foot: "Página {page} de {pages}",
    and: "y",
};

/// Names years as a list, those in a row by their first and last.
pub(super) fn years(years: &[crate::case::TaxYear], and: &str) -> String {
    let mut runs: Vec<(i16, i16)> = Vec::new();
    for year in years {
        match runs.last_mut() {
            Some((_, last)) if *last + 1 == year.0 => *last = year.0,
            _ => runs.push((year.0, year.0)),
        }
    }
    let named: Vec<String> = runs
        .into_iter()
        .flat_map(|(first, last)| match last - first {
            0 => vec![first.to_string()],
            1 => vec![first.to_string(), last.to_string()],
            _ => vec![format!("{first}\u{2013}{last}")],
        })
        .collect();
    match named.as_slice() {
        [] => String::new(),
        [one] => one.clone(),
        [rest @ .., last] => format!("{} {and} {last}", rest.join(", ")),
    }
}
