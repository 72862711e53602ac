//! Where lines end.
//!
//! Comes in: measured atoms and a measure. Goes out: which atoms stand on which line. Two ways: [`greedy`] for
//! short lines that stand alone, [`total_fit`] for text, which weighs all line ends of a paragraph together.
//! Knows nothing of faces or pages.

use super::measure::{After, Atom};
use super::units::Length;
use std::ops::Range;

/// Fills each line as far as it goes.
pub(super) fn greedy(atoms: &[Atom], measure: Length) -> Vec<Range<usize>> {
    let mut lines = Vec::new();
    let (mut start, mut width) = (0, Length::ZERO);
    for (at, atom) in atoms.iter().enumerate() {
        if at > start && !(width + atom.width).fits(measure) {
            lines.push(start..at);
            (start, width) = (at, Length::ZERO);
        }
        width += atom.width + atom.after.width();
        if atom.after == After::LineEnd {
            lines.push(start..at + 1);
            (start, width) = (at + 1, Length::ZERO);
        }
    }
    if start < atoms.len() {
        lines.push(start..atoms.len());
    }
    lines
}

/// Ends lines so that the whole paragraph is as even as it can be: the sum of the squares of what lines fall
/// short is least. The shape of the idea is that of Knuth and Plass, "Breaking paragraphs into lines" (1981);
/// set ragged right, it needs neither stretch nor shrink, only what a line falls short.
pub(super) fn total_fit(atoms: &[Atom], measure: Length) -> Vec<Range<usize>> {
    let mut lines = Vec::new();
    let mut start = 0;
    while start < atoms.len() {
        let end = atoms[start..]
            .iter()
            .position(|atom| atom.after == After::LineEnd)
            .map_or(atoms.len(), |found| start + found + 1);
        lines.extend(
            fit_stretch(&atoms[start..end], measure).into_iter().map(|l| l.start + start..l.end + start),
        );
        start = end;
    }
    lines
}

/// Weighs the line ends of atoms with no forced end among them.
fn fit_stretch(atoms: &[Atom], measure: Length) -> Vec<Range<usize>> {
    let count = atoms.len();
    // cost[i]: the least that the atoms from i on cost; next[i]: where the first of their lines ends.
    let mut cost = vec![0_i64; count + 1];
    let mut next = vec![count; count + 1];
    for start in (0..count).rev() {
        let mut best = i64::MAX;
        let mut width = Length::ZERO;
        for end in start + 1..=count {
            width += atoms[end - 1].width;
            if end > start + 1 && !width.fits(measure) {
                break;
            }
            let line = cost_of_line(&atoms[start..end], width, measure, end == count);
            let total = line + cost_of_parting(atoms.get(end)) + cost[end];
            // Among equals the fuller line comes first, so that the choice never depends on chance.
            if total <= best {
                (best, next[start]) = (total, end);
            }
            width += atoms[end - 1].after.width();
        }
        cost[start] = best;
    }
    let mut lines = Vec::new();
    let mut start = 0;
    while start < count {
        lines.push(start..next[start]);
        start = next[start];
    }
    lines
}

/// What a line costs: the square of what it falls short, in thousandths of the measure, and something for a
/// hyphen at its end. The last line may be short, but not a scrap, where that can be helped.
fn cost_of_line(line: &[Atom], width: Length, measure: Length, is_last: bool) -> i64 {
    const LINE: i64 = 4_000;
    const HYPHEN: i64 = 8_000;
    const SCRAP: i64 = 25_000;
    if is_last {
        return LINE + if width < measure / 8 { SCRAP } else { 0 };
    }
    let short = (measure - width).or_nothing().in_millipoints() * 1000 / measure.in_millipoints().max(1);
    let hyphen = line.last().is_some_and(|atom| atom.after == After::Joint);
    LINE + short * short + if hyphen { HYPHEN } else { 0 }
}

/// What it costs that an atom begins a line: a number belongs to the word before it, as in "tax year 2026", so it
/// parts from it only where the line would become poor otherwise.
fn cost_of_parting(next: Option<&Atom>) -> i64 {
    const NUMBER: i64 = 10_000;
    let first = next.and_then(|atom| atom.spans.first()).and_then(|span| span.text.chars().next());
    if first.is_some_and(|first| first.is_ascii_digit()) { NUMBER } else { 0 }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::document::plain;
    use crate::page::measure::{Line, Style, atoms};
    use proptest::prelude::*;

    const STYLE: Style = Style { size: Length::points(10), leading: Length::points(12), strong: false };

    fn set(text: &str, measure: Length, way: fn(&[Atom], Length) -> Vec<Range<usize>>) -> Vec<String> {
        let atoms = atoms(&plain(text), STYLE, &mut Vec::new());
        way(&atoms, measure)
            .into_iter()
            .map(|line| Line::of(&atoms[line]).spans.iter().map(|span| span.text.as_str()).collect())
            .collect()
    }

    #[test]
    fn total_fit_is_more_even_than_greedy() {
        let text = "a bb cccccc dddd ee ffffffffff gggg hhhhhhh";
        let raggedness = |lines: &[String]| -> i64 {
            let all_but_last = &lines[..lines.len() - 1];
            let width = |l: &String| crate::page::measure::width_of(Default::default(), l, STYLE.size);
            all_but_last.iter().map(|l| (Length::points(70) - width(l)).in_millipoints().pow(2)).sum()
        };
        let (even, filled) =
            (set(text, Length::points(70), total_fit), set(text, Length::points(70), greedy));
        assert!(raggedness(&even) <= raggedness(&filled), "{even:?} {filled:?}");
    }

    #[test]
    fn a_last_line_is_no_scrap_where_that_can_be_helped() {
        let text = "They are figured again from the return itself when it is made.";
        let width = |l: &str| crate::page::measure::width_of(Default::default(), l, STYLE.size);
        // The measure lets everything but the last word stand on the first line.
        let measure = width("They are figured again from the return itself when it is");
        assert_eq!(set(text, measure, greedy)[1], "made.");
        let lines = set(text, measure, total_fit);
        assert_eq!(lines.len(), 2);
        assert!(width(&lines[1]) >= measure / 8, "{lines:?}");
    }

    #[test]
    fn a_number_stays_with_its_word_where_that_costs_little() {
        let text = "The rest of it goes on, whatever the household does meanwhile, to tax year 2026 and from there \
            to later years until all of it is used.";
        let width = |l: &str| crate::page::measure::width_of(Default::default(), l, STYLE.size);
        let measure = width("The rest of it goes on, whatever the household does meanwhile, to tax year 20");
        let lines = set(text, measure, total_fit);
        assert!(set(text, measure, greedy)[1].starts_with("2026"));
        assert!(lines[1].starts_with("year 2026"), "{lines:?}");
    }

    #[test]
    fn forced_ends_hold() {
        assert_eq!(set("one two\nthree", Length::points(300), total_fit), ["one two", "three"]);
        assert_eq!(set("one two\nthree", Length::points(300), greedy), ["one two", "three"]);
    }

    proptest! {
        #[test]
        fn every_atom_stands_once_and_in_order(text in "([a-z]{1,9}[ -]){0,60}", points in 40_i64..400) {
            let measure = Length::points(points);
            let atoms = crate::page::measure::split_long(
                atoms(&plain(text), STYLE, &mut Vec::new()), measure, STYLE.size);
            for lines in [greedy(&atoms, measure), total_fit(&atoms, measure)] {
                let mut at = 0;
                for line in &lines {
                    prop_assert_eq!(line.start, at);
                    prop_assert!(line.end > line.start);
                    prop_assert!(Line::of(&atoms[line.clone()]).width.fits(measure));
                    at = line.end;
                }
                prop_assert_eq!(at, atoms.len());
            }
        }

        #[test]
        fn total_fit_needs_at_most_one_line_more(text in "([a-z]{1,9} ){1,60}", points in 80_i64..400) {
            let atoms = atoms(&plain(text), STYLE, &mut Vec::new());
            let (even, filled) = (total_fit(&atoms, Length::points(points)), greedy(&atoms, Length::points(points)));
            prop_assert!(even.len() <= filled.len() + 1);
        }
    }
}
