//! The check that a letter uses no other names and forms than there are.
//!
//! Comes in: the text of a letter. Goes out: a finding for every tag that the contract does not know, with its
//! place and the nearest name. The contract (`kit: 1`) is that of [`names`](super::names), together with the facts and
//! amounts of the computation. Knows no values.
//!
//! A letter may use: `{{name}}`, `{{#if name}} {{else}} {{/if}}`, `{{#unless name}}`, `{{#each list}}`, parts
//! `{{> part}}`, comments `{{! .. }}`, and the helpers of [`HELPERS`]. Inside `#each` stand the names of one
//! entry; `../name` reaches the names outside.

use super::names::Takes::{self, Group, List, Text, Texts, Yes};
use super::names::{NAMES, Name};
use crate::credit::facts::{AMOUNT_NAMES, FACT_NAMES};
use crate::finding::{Finding, SourceId, Span};

/// The helpers, how each is written, and what it prints.
pub const HELPERS: &[(&str, &str, &str)] = &[
    (
        "plural",
        "{{plural items \"item\" \"items\"}}",
        "the first words for one entry, the second for none or several",
    ),
    ("count", "{{count items}}", "the number of entries, in words up to twelve"),
    ("and", "{{and client.names}}", "the entries joined by commas and a last `and`"),
];

/// Returns the nearest of the known names, where one is near enough to be meant.
pub(super) fn nearest<'n>(written: &str, known: impl Iterator<Item = &'n str>) -> Option<&'n str> {
    known
        .map(|name| (strsim::damerau_levenshtein(written, name), name))
        .filter(|(distance, name)| *distance <= 1 + name.len().max(written.len()) / 4)
        .min_by_key(|(distance, _)| *distance)
        .map(|(_, name)| name)
}

/// Checks every tag of a text from a byte on. `parts` are the names of the parts there are.
///
/// A part takes in no parts, so that no text can hold itself.
pub fn check(
    text: &str,
    from: usize,
    source: SourceId,
    (within_part, parts): (bool, &[&str]),
    findings: &mut Vec<Finding>,
) {
    let (tags, broken) = tags(text, from);
    let mut check = Check { source, within_part, parts, open: Vec::new(), findings };
    for tag in &tags {
        check.tag(tag);
    }
    if let Some(at) = broken {
        check.error("template-form", at..(at + 2), "this tag is not closed").help =
            Some("end it with `}}`".to_string());
    }
    for open in std::mem::take(&mut check.open) {
        check
            .error("template-form", open.span.clone(), format!("`{{{{#{}}}}}` is never closed", open.word))
            .help = Some(format!("write `{{{{/{}}}}}` where it ends", open.word));
    }
}

/// One tag: its place and the words inside, each with its place.
pub(super) struct Tag<'t> {
    /// From its first brace to its last.
    pub span: std::ops::Range<usize>,
    /// It prints something in the line it stands in.
    pub prints: bool,
    inside: &'t str,
    inside_at: usize,
    comment: bool,
    triple: bool,
}

/// Finds the tags of a text from a byte on, and the place of one that is not closed.
pub(super) fn tags(text: &str, from: usize) -> (Vec<Tag<'_>>, Option<usize>) {
    let mut found = Vec::new();
    let mut at = from;
    while let Some(start) = text[at..].find("{{").map(|n| at + n) {
        let rest = &text[start..];
        let (close, triple) = match rest {
            _ if rest.starts_with("{{!--") => ("--}}", false),
            _ if rest.starts_with("{{{") => ("}}}", true),
            _ => ("}}", false),
        };
        let Some(end) = rest.find(close).map(|n| start + n + close.len()) else {
            return (found, Some(start));
        };
        let opening = if triple { 3 } else { 2 };
        let inside_end = end - if triple { 3 } else { 2 };
        let mut inside = &text[start + opening..inside_end.max(start + opening)];
        let mut inside_at = start + opening;
        if let Some(rest) = inside.strip_prefix('~') {
            (inside, inside_at) = (rest, inside_at + 1);
        }
        let inside = inside.strip_suffix('~').unwrap_or(inside);
        let comment = inside.starts_with('!');
        let first = inside.trim_start().chars().next();
        let prints =
            !comment && !matches!(first, Some('#' | '/' | '>' | '^')) && first_word(inside) != "else";
        found.push(Tag { span: start..end, prints, inside, inside_at, comment, triple });
        at = end;
    }
    (found, None)
}

fn first_word(inside: &str) -> &str {
    inside.split_whitespace().next().unwrap_or("")
}

/// A block that is open, and the names that stand inside it.
struct Open {
    word: &'static str,
    span: std::ops::Range<usize>,
    /// The names inside `#each`.
    scope: Option<Scope>,
    /// Its `else` has been seen.
    otherwise: bool,
}

/// The names in one place.
#[derive(Clone, Copy)]
enum Scope {
    /// The whole contract.
    Whole,
    /// One entry of a list.
    Entry(&'static [Name]),
    /// One of a list of words.
    Word,
}

struct Check<'a> {
    source: SourceId,
    within_part: bool,
    parts: &'a [&'a str],
    open: Vec<Open>,
    findings: &'a mut Vec<Finding>,
}

/// A word inside a tag, with its place.
type Word<'t> = (&'t str, std::ops::Range<usize>);

impl Check<'_> {
    fn tag(&mut self, tag: &Tag<'_>) {
        if tag.comment {
            return;
        }
        if tag.triple || tag.inside.starts_with('&') {
            self.error(
                "template-form",
                tag.span.clone(),
                "three braces or `&` would print a value unescaped",
            )
            .help = Some("use two braces: `{{name}}`".to_string());
            return;
        }
        let words = words(tag.inside, tag.inside_at);
        let Some((first, span)) = words.first().cloned() else {
            self.error("template-form", tag.span.clone(), "nothing stands between the braces").help =
                Some("write a name, such as `{{year}}`".to_string());
            return;
        };
        match first.chars().next() {
            Some('#') => self.block(tag, first, span, &words),
            Some('/') => self.close(tag, &words),
            Some('>') => self.part(tag, &words),
            Some('^' | '*') => self.unknown_form(tag),
            _ if first == "else" => self.otherwise(tag, &words[1..]),
            _ if words.len() > 1 || HELPERS.iter().any(|(name, ..)| *name == first) => self.helper(&words),
            _ => self.value(first, span),
        }
    }

    fn block(&mut self, tag: &Tag<'_>, first: &str, span: std::ops::Range<usize>, words: &[Word<'_>]) {
        let word = match &first[1..] {
            "if" => "if",
            "unless" => "unless",
            "each" => "each",
            other => {
                let near = nearest(other, ["if", "unless", "each"].into_iter());
                self.error("template-form", span, format!("letters have no `#{other}`")).help =
                    Some(match near {
                        Some(near) => format!("did you mean `#{near}`?"),
                        None => "write `#if`, `#unless` or `#each`".to_string(),
                    });
                return;
            }
        };
        let mut scope = None;
        match words {
            [_, (name, at)] if word == "each" => scope = Some(self.list(name, at.clone())),
            [_, (name, at)] => self.question(name, at.clone()),
            _ => {
                self.error("template-form", tag.span.clone(), format!("`#{word}` takes one name")).help =
                    Some(format!(
                        "write it like `{{{{#{word} {}}}}}`",
                        if word == "each" { "items" } else { "carries_out" }
                    ));
            }
        }
        self.open.push(Open { word, span: tag.span.clone(), scope, otherwise: false });
    }

    fn close(&mut self, tag: &Tag<'_>, words: &[Word<'_>]) {
        let word = words[0].0[1..].to_string();
        match self.open.last() {
            Some(open) if open.word == word && words.len() == 1 => {
                self.open.pop();
            }
            Some(open) => {
                let (wanted, at) = (open.word, open.span.clone());
                let source = self.source;
                let finding = self.error(
                    "template-form",
                    tag.span.clone(),
                    format!("`{{{{#{wanted}}}}}` is open here, so `{{{{/{wanted}}}}}` closes it"),
                );
                finding.related.push((place(source, at), "it begins here".to_string()));
                // Going on as if it had been closed rightly keeps one slip from causing more complaints.
                self.open.pop();
            }
            None => {
                self.error("template-form", tag.span.clone(), "nothing is open here").help =
                    Some("delete it, or write the opening tag before it".to_string());
            }
        }
    }

    fn otherwise(&mut self, tag: &Tag<'_>, rest: &[Word<'_>]) {
        let Some(open) = self.open.last_mut() else {
            self.error("template-form", tag.span.clone(), "`else` stands outside of `#if`").help =
                Some("delete it, or write `{{#if name}}` before it".to_string());
            return;
        };
        let twice = std::mem::replace(&mut open.otherwise, rest.is_empty());
        let asks = open.word == "if";
        match rest {
            [] if !twice => {}
            [("if", _), (name, at)] if asks && !twice => self.question(name, at.clone()),
            _ => {
                self.error(
                    "template-form",
                    tag.span.clone(),
                    "`else` stands alone and once, or as `else if name` inside `#if`",
                )
                .help = Some("write `{{else}}` or `{{else if name}}`".to_string());
            }
        }
    }

    fn part(&mut self, tag: &Tag<'_>, words: &[Word<'_>]) {
        let mut names = words
            .iter()
            .map(|(word, at)| (word.trim_start_matches('>'), at.clone()))
            .filter(|(word, _)| !word.is_empty());
        match (names.next(), names.next()) {
            (Some((_, at)), None) if self.within_part => {
                self.error("template-form", at, "a part cannot take in another part, or itself").help =
                    Some("write its words here, or take both parts into the letter".to_string());
            }
            (Some((name, _)), None) if self.parts.contains(&name) => {
                if self.open.iter().any(|open| open.scope.is_some()) {
                    self.error(
                        "template-form",
                        tag.span.clone(),
                        "a part cannot stand inside `#each`, where its names mean something else",
                    )
                    .help = Some("move it behind `{{/each}}`".to_string());
                }
            }
            (Some((name, at)), None) => {
                let near = nearest(name, self.parts.iter().copied());
                let parts = self.parts.join("`, `");
                self.error("template-unknown-part", at, format!("there is no part named `{name}`")).help =
                    Some(match near {
                        Some(near) => format!("did you mean `{near}`?"),
                        None => format!("there are these parts: `{parts}`"),
                    });
            }
            _ => self.unknown_form(tag),
        }
    }

    fn helper(&mut self, words: &[Word<'_>]) {
        let (helper, at) = &words[0];
        let Some((name, how, _)) = HELPERS.iter().find(|(name, ..)| name == helper) else {
            let near = nearest(helper, HELPERS.iter().map(|(name, ..)| *name));
            self.error("template-unknown-name", at.clone(), format!("there is no helper named `{helper}`"))
                .help = Some(match near {
                Some(near) => format!("did you mean `{near}`?"),
                None => "a name stands alone between its braces; the helpers are `plural`, `count` and `and`"
                    .to_string(),
            });
            return;
        };
        let quoted = |word: &Word<'_>| word.0.len() >= 2 && word.0.starts_with('"') && word.0.ends_with('"');
        let fits = match *name {
            "plural" => words.len() == 4 && quoted(&words[2]) && quoted(&words[3]),
            _ => words.len() == 2,
        };
        if !fits {
            let whole = at.start..words[words.len() - 1].1.end;
            self.error("template-form", whole, format!("`{name}` is written otherwise")).help =
                Some(format!("write it like `{how}`"));
            return;
        }
        let (list, span) = (words[1].0, words[1].1.clone());
        let Some(takes) = self.resolve(list, span.clone()) else { return };
        let fits = match *name {
            "and" => takes == Texts,
            _ => matches!(takes, Texts | List(_)),
        };
        if !fits {
            let wants = if *name == "and" { "a list of words" } else { "a list" };
            self.misuse(list, span, takes, &format!("`{name}` takes {wants}"));
        }
    }

    fn value(&mut self, name: &str, at: std::ops::Range<usize>) {
        if let Some(takes) = self.resolve(name, at.clone())
            && takes != Text
        {
            self.misuse(name, at, takes, "only words can be printed");
        }
    }

    fn question(&mut self, name: &str, at: std::ops::Range<usize>) {
        if let Some(takes @ Group(_)) = self.resolve(name, at.clone()) {
            self.misuse(
                name,
                at,
                takes,
                "`#if` and `#unless` ask about a yes or no, about words, or about a list",
            );
        }
    }

    fn list(&mut self, name: &str, at: std::ops::Range<usize>) -> Scope {
        // So a letter goes through every entry once at most, however its lists lie in each other.
        if name.starts_with("../") && self.open.iter().any(|open| open.scope.is_some()) {
            self.error(
                "template-form",
                at.clone(),
                "a list from outside cannot be gone through inside `#each`, once for every entry",
            )
            .help = Some("end the outer list first with `{{/each}}`".to_string());
        }
        match self.resolve(name, at.clone()) {
            Some(List(entry)) => Scope::Entry(entry),
            Some(Texts) => Scope::Word,
            Some(takes) => {
                self.misuse(name, at, takes, "`#each` goes through a list");
                Scope::Whole
            }
            // Unknown, and told already; whatever stands inside cannot be checked better than against everything.
            None => Scope::Whole,
        }
    }

    /// Finds what stands behind a name in this place, or tells that nothing does.
    fn resolve(&mut self, written: &str, at: std::ops::Range<usize>) -> Option<Takes> {
        let mut scopes: Vec<Scope> = vec![Scope::Whole];
        scopes.extend(self.open.iter().filter_map(|open| open.scope));
        let mut rest = written;
        let mut start = at.start;
        while let Some(outer) = rest.strip_prefix("../") {
            if scopes.len() == 1 {
                self.error("template-form", at, "`../` reaches out of `#each`, and this stands in none")
                    .help = Some(format!("write `{{{{{}}}}}`", written.trim_start_matches("../")));
                return None;
            }
            scopes.pop();
            (rest, start) = (outer, start + 3);
        }
        let mut scope = *scopes.last()?;
        if rest == "this" {
            if let Scope::Word = scope {
                return Some(Text);
            }
            self.error("template-form", at, "`this` is one of a list of words, inside its `#each`").help =
                Some("write the name".to_string());
            return None;
        }
        let mut segments = rest.split('.').peekable();
        let mut takes = None;
        while let Some(segment) = segments.next() {
            let span = start..start + segment.len();
            start += segment.len() + 1;
            let Some(found) = look_up(scope, segment) else {
                self.unknown_name(segment, span, scope, scopes.len() > 1);
                return None;
            };
            if let (Some(_), Group(inner)) = (segments.peek(), found) {
                scope = Scope::Entry(inner);
            } else if segments.peek().is_some() {
                let help = match found {
                    List(_) => format!("go through it with `{{{{#each {segment}}}}}`"),
                    _ => format!("end it after `{segment}`"),
                };
                self.error("template-unknown-name", span, format!("nothing stands below `{segment}`")).help =
                    Some(help);
                return None;
            }
            takes = Some(found);
        }
        takes
    }

    fn unknown_name(&mut self, written: &str, at: std::ops::Range<usize>, scope: Scope, inside: bool) {
        let near = nearest(written, known(scope).into_iter());
        let outside = inside && near.is_none() && look_up(Scope::Whole, written).is_some();
        let help = match (near, scope) {
            (Some(near), _) => format!("did you mean `{near}`?"),
            _ if outside => format!("it stands outside of `#each`; write `../{written}`"),
            (None, Scope::Whole) => "`gablework schema` lists the names that letters may use".to_string(),
            (None, Scope::Word) => "inside this list stand words; write `this`".to_string(),
            (None, Scope::Entry(names)) => {
                let names: Vec<&str> = names.iter().map(|one| one.name).collect();
                format!("here stand these names: `{}`", names.join("`, `"))
            }
        };
        self.error("template-unknown-name", at, format!("there is no name `{written}` here")).help =
            Some(help);
    }

    fn misuse(&mut self, written: &str, at: std::ops::Range<usize>, takes: Takes, rule: &str) {
        let help = match takes {
            Yes => format!("`{written}` is a yes or no: `{{{{#if {written}}}}} .. {{{{/if}}}}`"),
            Text => format!("`{written}` is words: `{{{{{written}}}}}`"),
            Texts => format!("`{written}` is a list of words: `{{{{and {written}}}}}`"),
            List(_) => format!("`{written}` is a list: `{{{{#each {written}}}}} .. {{{{/each}}}}`"),
            Group(names) => format!("`{written}` has names below it, such as `{written}.{}`", names[0].name),
        };
        self.error("template-use", at, rule.to_string()).help = Some(help);
    }

    fn unknown_form(&mut self, tag: &Tag<'_>) {
        self.error("template-form", tag.span.clone(), "letters do not have this kind of tag").help = Some(
            "there are names, `#if`, `#unless`, `#each`, parts with `>`, and comments with `!`".to_string(),
        );
    }

    fn error(
        &mut self,
        code: &'static str,
        at: std::ops::Range<usize>,
        message: impl Into<String>,
    ) -> &mut Finding {
        self.findings.push(Finding::error(code, message).at(place(self.source, at)));
        let last = self.findings.len() - 1;
        &mut self.findings[last]
    }
}

fn place(source: SourceId, at: std::ops::Range<usize>) -> Span {
    Span { source, start: at.start as u32, end: at.end as u32 }
}

fn look_up(scope: Scope, name: &str) -> Option<Takes> {
    let among = |names: &[Name]| names.iter().find(|one| one.name == name).map(|one| one.takes);
    match scope {
        Scope::Entry(names) => among(names),
        Scope::Word => None,
        Scope::Whole => among(NAMES)
            .or_else(|| FACT_NAMES.iter().any(|(fact, _)| *fact == name).then_some(Yes))
            .or_else(|| AMOUNT_NAMES.iter().any(|(amount, _)| *amount == name).then_some(Text)),
    }
}

fn known(scope: Scope) -> Vec<&'static str> {
    match scope {
        Scope::Entry(names) => names.iter().map(|one| one.name).collect(),
        Scope::Word => vec!["this"],
        Scope::Whole => NAMES
            .iter()
            .map(|one| one.name)
            .chain(FACT_NAMES.iter().map(|(fact, _)| *fact))
            .chain(AMOUNT_NAMES.iter().map(|(amount, _)| *amount))
            .collect(),
    }
}

/// Splits the inside of a tag into words, quoted ones whole.
fn words(inside: &str, at: usize) -> Vec<Word<'_>> {
    let mut words = Vec::new();
    let mut start: Option<usize> = None;
    let mut quoted = false;
    for (n, c) in inside.char_indices() {
        if c == '"' {
            quoted = !quoted;
        }
        match start {
            None if !c.is_whitespace() => start = Some(n),
            Some(from) if c.is_whitespace() && !quoted => {
                words.push((&inside[from..n], at + from..at + n));
                start = None;
            }
            _ => {}
        }
    }
    if let Some(from) = start {
        words.push((&inside[from..], at + from..at + inside.len()));
    }
    words
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::finding::Sources;

    fn told(text: &str) -> Vec<String> {
        let mut sources = Sources::default();
        let source = sources.add("x.md", text);
        let mut findings = Vec::new();
        check(text, 0, source, (false, &["cautions", "call"]), &mut findings);
        let said = |one: &Finding| {
            let at = one.at.expect("every finding has a place");
            let place = sources.line_column(at);
            format!(
                "{}:{} [{}] {}; {}",
                place.line,
                place.column,
                sources.excerpt(at),
                one.message,
                one.help.as_deref().unwrap_or("")
            )
        };
        findings.iter().map(said).collect()
    }

    #[test]
    fn what_the_contract_knows_passes() {
        let text = "{{year}} {{client.names_joined}} {{clean_allowed}}{{! note }}{{!-- long {{year}} --}}\n\
            {{#if carries_out}}a{{else if used_up}}b{{else}}c{{/if}}{{#unless client.deceased}}d{{/unless}}\n\
            {{#each items}}{{name}} {{../year}} {{#each left_out}}{{what}}, {{../name}}, {{../../dated}}{{/each}}\
            {{#if incentives}}x{{/if}}{{/each}}\n\
            {{#each client.names}}{{this}}{{/each}}{{and client.names}} {{plural items \"item\" \"items\"}} {{count chain}}\n\
            {{> cautions}}{{>call}}{{~year~}}";
        assert_eq!(told(text), Vec::<String>::new());
    }

    #[test]
    fn misspelt_names_are_told_with_their_place_also_inside_questions() {
        for (text, wanted) in [
            (
                "Dear {{client.names_joind}}",
                "1:15 [names_joind] there is no name `names_joind` here; did you mean `names_joined`?",
            ),
            (
                "a\n{{#if carries_uot}}x{{/if}}",
                "2:7 [carries_uot] there is no name `carries_uot` here; did you mean `carries_out`?",
            ),
            (
                "{{#unless used_upp}}x{{/unless}}",
                "1:11 [used_upp] there is no name `used_upp` here; did you mean `used_up`?",
            ),
            ("{{#each item}}x{{/each}}", "1:9 [item] there is no name `item` here; did you mean `items`?"),
            (
                "{{#if draft}}{{else if uses_clen}}{{/if}}",
                "1:24 [uses_clen] there is no name `uses_clen` here; did you mean `uses_clean`?",
            ),
            (
                "{{#each items}}{{#if count}}x{{/if}}{{/each}}",
                "1:22 [count] there is no name `count` here; did you mean `counts`?",
            ),
            (
                "{{#each items}}{{dated}}{{/each}}",
                "1:18 [dated] there is no name `dated` here; it stands outside of `#each`; write `../dated`",
            ),
            ("{{> caution}}", "1:5 [caution] there is no part named `caution`; did you mean `cautions`?"),
            (
                "{{plurall items \"a\" \"b\"}}",
                "1:3 [plurall] there is no helper named `plurall`; did you mean `plural`?",
            ),
            ("{{and client.nmaes}}", "1:14 [nmaes] there is no name `nmaes` here; did you mean `names`?"),
        ] {
            assert_eq!(told(text), [wanted], "{text}");
        }
    }

    #[test]
    fn names_are_used_for_what_they_are() {
        for (text, wanted) in [
            ("{{carries_out}}", "`carries_out` is a yes or no"),
            ("{{items}}", "`items` is a list"),
            ("{{client}}", "`client` has names below it, such as `client.names`"),
            ("{{#each year}}x{{/each}}", "`year` is words"),
            ("{{#if client}}x{{/if}}", "`client` has names below it"),
            ("{{and items}}", "`items` is a list"),
            ("{{items.name}}", "go through it with `{{#each items}}`"),
            ("{{year.month}}", "end it after `year`"),
            ("{{../year}}", "write `{{year}}`"),
        ] {
            let told = told(text);
            assert!(told.len() == 1 && told[0].contains(wanted), "{text}: {told:?}");
        }
    }

    #[test]
    fn tags_that_letters_do_not_have_are_refused() {
        for (text, wanted) in [
            ("{{{year}}}", "unescaped"),
            ("{{&year}}", "unescaped"),
            ("{{#with client}}x{{/with}}", "no `#with`"),
            ("{{year", "not closed"),
            ("{{#if draft}}x", "never closed"),
            ("{{/if}}", "nothing is open"),
            ("{{#if draft}}x{{/unless}}", "`{{/if}}` closes it"),
            ("{{else}}", "outside of `#if`"),
            ("{{#if draft}}{{else}}{{else}}{{/if}}", "alone and once"),
            ("{{}}", "nothing stands"),
            ("{{* year}}", "this kind of tag"),
            ("{{#each items}}{{> call}}{{/each}}", "inside `#each`"),
            ("{{plural items}}", "written otherwise"),
            ("{{#if}}x{{/if}}", "takes one name"),
        ] {
            let told = told(text);
            assert!(!told.is_empty() && told[0].contains(wanted), "{text}: {told:?}");
        }
    }

    #[test]
    fn no_name_of_the_contract_stands_twice() {
        let mut all = known(Scope::Whole);
        let count = all.len();
        all.sort_unstable();
        all.dedup();
        assert_eq!(all.len(), count);
    }
}
