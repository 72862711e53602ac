//! Drawings of amounts into strips: bars on one scale, each beside its name and its numbers.
//!
//! Comes in: a chart and the width it may take. Goes out: strips for `flow` and one element of the structure,
//! which says in words what the drawing shows. Knows nothing of what the amounts mean.

use super::flow::{Cling, Strip};
use super::frame::{Area, ElementId, Ink, Kind, Piece};
use super::look::{LIGHT_RULE, STRONG_RULE};
use super::measure::{self, Line, Style};
use super::paragraph::{Measure, Setter, place_line};
use super::units::Length;
use super::{PageFault, breaks};
use crate::document::{Bar, Chart, Shade, plain};

/// Bars that stay in one piece; a chart of more goes over to the next page after so many.
const BARS_TOGETHER: usize = 36;
/// Up to so many bars stand wide apart; more stand closer, so that a long chart leaves room for words.
const BARS_WIDE: usize = 10;
/// The line around light and open parts.
const OUTLINE: Length = Length::millipoints(600);
/// The rule along the upper edge of a bar.
const EDGE: Length = Length::millipoints(2200);

impl Setter {
    /// Sets a drawing.
    pub fn chart(&mut self, chart: &Chart, at: Measure) {
        if chart.bars.is_empty() {
            return;
        }
        let element = self.element(Kind::Figure(chart.summary.clone()), at.parent);
        let style = self.look.chart;
        let plot = Plot::of(chart, style, self.look.column_head, self.look.gutter, at, &mut self.faults);
        let start = self.strips.len();
        let head = self.chart_head(chart, &plot, element);
        self.push(head);
        let pad =
            if chart.bars.len() > BARS_WIDE { self.look.row_pad / 2 } else { self.look.row_pad * 5 / 4 };
        let rows: Vec<BarLines> =
            chart.bars.iter().map(|bar| BarLines::of(bar, &plot, style, &mut self.faults)).collect();
        for (n, (bar, lines)) in chart.bars.iter().zip(rows).enumerate() {
            let height = style.leading * lines.name.len().max(1) as i64 + pad * 2;
            let mut pieces = Vec::new();
            lines.draw(&plot, pad, element, &mut pieces);
            let top = (height - self.look.bar) / 2;
            let draw = Drawing { chart, plot: &plot, element, top, bar: self.look.bar };
            if let Some(next) = chart.bars.get(n + 1) {
                draw.joints(bar, next, height, &mut pieces);
            }
            draw.bar(bar, &mut pieces);
            // Where the scale begins.
            let axis =
                Area { x: plot.left - OUTLINE, y: Length::ZERO, width: OUTLINE, height, ink: Ink::Black };
            pieces.push(Piece::Shape(axis, element));
            let last_of_piece = n + 1 == chart.bars.len() || (n + 1) % BARS_TOGETHER == 0;
            let cling = if last_of_piece { Cling::Free } else { Cling::Row };
            self.push(Strip { height, pieces, cling, ..Strip::default() });
        }
        if let Some(first) = self.strips.get_mut(start) {
            first.before = first.before.max(self.look.gap);
        }
        if let Some(last) = self.strips.last_mut() {
            last.after = self.look.gap;
        }
    }

    /// Sets the headings of names and numbers, and the key above the bars.
    fn chart_head(&mut self, chart: &Chart, plot: &Plot, element: ElementId) -> Strip {
        let style = self.look.column_head;
        let gap = style.size / 2;
        let swatch = style.size;
        // The key: as many entries on a line as go, and a long one on lines of its own.
        let inner = (plot.width - swatch - gap).max(swatch);
        let key_style = Style { strong: false, ..style };
        let mut rows: Vec<Vec<(Length, Option<usize>, Line)>> = vec![Vec::new()];
        let mut x = Length::ZERO;
        for (n, series) in chart.series.iter().enumerate() {
            for (part, line) in
                lines_in(&series.name, inner, key_style, &mut self.faults).into_iter().enumerate()
            {
                let width = swatch + gap + line.width;
                if part > 0 || (x > Length::ZERO && !(x + width).fits(plot.width)) {
                    rows.push(Vec::new());
                    x = Length::ZERO;
                }
                rows.last_mut().expect("a row").push((x, (part == 0).then_some(n), line));
                x += width + gap * 3;
            }
        }
        let head = lines_in(&chart.head, plot.name_width, style, &mut self.faults);
        let numbers: Vec<Vec<Line>> = chart
            .columns
            .iter()
            .zip(&plot.numbers)
            .map(|(words, slot)| lines_in(words, slot.1, style, &mut self.faults))
            .collect();
        let most = numbers.iter().map(Vec::len).chain([rows.len(), head.len()]).max().unwrap_or(1);
        let pad = self.look.row_pad;
        let mut pieces = Vec::new();
        let baseline =
            |line: usize, of: usize| pad + style.leading * (most - of + line) as i64 + style.baseline();
        let head_lines = head.len();
        for (n, line) in head.into_iter().enumerate() {
            place_line(&mut pieces, line, plot.name_left, baseline(n, head_lines), style, Some(element));
        }
        let key_rows = rows.len();
        for (n, row) in rows.into_iter().enumerate() {
            for (x, entry, line) in row {
                let y = baseline(n, key_rows);
                let area = Area {
                    x: plot.left + x,
                    y: y - swatch * 7 / 10,
                    width: swatch,
                    height: swatch * 7 / 10,
                    ink: Ink::Black,
                };
                if let Some(entry) = entry {
                    shade(chart.series[entry].shade, area, element, &mut pieces);
                }
                let left = plot.left + x + swatch + gap;
                place_line(&mut pieces, line, left, y, key_style, Some(element));
            }
        }
        for (lines, (left, width)) in numbers.into_iter().zip(&plot.numbers) {
            let count = lines.len();
            for (n, line) in lines.into_iter().enumerate() {
                let x = *left + *width - line.width;
                place_line(&mut pieces, line, x, baseline(n, count), style, Some(element));
            }
        }
        let text = style.leading * most as i64;
        let rule = Area {
            x: plot.name_left,
            y: pad + text + pad,
            width: plot.whole,
            height: STRONG_RULE,
            ink: Ink::Black,
        };
        pieces.push(Piece::Area(rule));
        Strip { height: pad + text + pad + STRONG_RULE, pieces, cling: Cling::Row, ..Strip::default() }
    }
}

/// Where names, bars and numbers stand, and the scale.
struct Plot {
    name_left: Length,
    name_width: Length,
    /// Left edge and width of the bars.
    left: Length,
    width: Length,
    /// Left edge and width of each column of numbers.
    numbers: Vec<(Length, Length)>,
    /// The width of the whole.
    whole: Length,
    /// The least and the greatest amount.
    scale: (i64, i64),
}

impl Plot {
    /// Shares the width out: names and numbers take what they need, bars the rest, which is a quarter at least.
    fn of(
        chart: &Chart,
        style: Style,
        head: Style,
        gutter: Length,
        at: Measure,
        faults: &mut Vec<PageFault>,
    ) -> Plot {
        let count = chart.columns.len() as i64;
        let mut width_of = |words: &str, style: Style| line_of(words, style, faults).width;
        let most = at.width * 9 / 20 / count.max(1);
        let numbers: Vec<Length> = (0..chart.columns.len())
            .map(|n| {
                let cells = chart.bars.iter().filter_map(|bar| bar.numbers.get(n));
                let cells = cells.map(|cell| width_of(cell, style.bold())).max().unwrap_or_default();
                let widest = chart.columns[n].split_whitespace().map(|word| width_of(word, head)).max();
                cells.max(widest.unwrap_or_default()).min(most)
            })
            .collect();
        let names = chart.bars.iter().map(|bar| width_of(&bar.name, style.bold())).max().unwrap_or_default();
        let names = names.max(width_of(&chart.head, head));
        let of_numbers: Length = numbers.iter().copied().sum::<Length>() + gutter * count;
        let rest = (at.width - of_numbers - gutter).or_nothing();
        let name_width = names.min(rest / 2);
        let left = at.left + name_width + gutter;
        let width = (rest - name_width).or_nothing();
        let mut x = left + width;
        let numbers = numbers
            .into_iter()
            .map(|width| {
                let slot = (x + gutter, width);
                x += gutter + width;
                slot
            })
            .collect();
        let ends = || chart.bars.iter().flat_map(|bar| &bar.parts).flat_map(|part| [part.from, part.to]);
        let scale = (ends().min().unwrap_or(0).min(0), ends().max().unwrap_or(0).max(0));
        Plot { name_left: at.left, name_width, left, width, numbers, whole: at.width, scale }
    }

    /// Where an amount lies on the scale.
    fn x(&self, amount: i64) -> Length {
        let (least, greatest) = self.scale;
        self.left + self.width.share(amount.saturating_sub(least), greatest.saturating_sub(least))
    }
}

/// The words of a bar, set.
struct BarLines {
    name: Vec<Line>,
    numbers: Vec<Line>,
    style: Style,
}

impl BarLines {
    fn of(bar: &Bar, plot: &Plot, style: Style, faults: &mut Vec<PageFault>) -> BarLines {
        let style = if bar.total { style.bold() } else { style };
        let name = lines_in(&bar.name, plot.name_width, style, faults);
        let numbers = bar.numbers.iter().map(|number| line_of(number, style, faults)).collect();
        BarLines { name, numbers, style }
    }

    /// Places name and numbers; the numbers stand on the middle of the name's lines.
    fn draw(self, plot: &Plot, pad: Length, element: ElementId, pieces: &mut Vec<Piece>) {
        let style = self.style;
        let lower = style.leading * self.name.len().saturating_sub(1) as i64 / 2;
        for (n, line) in self.name.into_iter().enumerate() {
            let y = pad + style.leading * n as i64 + style.baseline();
            place_line(pieces, line, plot.name_left, y, style, Some(element));
        }
        for (line, (left, width)) in self.numbers.into_iter().zip(&plot.numbers) {
            let x = *left + *width - line.width;
            place_line(pieces, line, x, pad + lower + style.baseline(), style, Some(element));
        }
    }
}

/// Draws bars into a strip.
struct Drawing<'a> {
    chart: &'a Chart,
    plot: &'a Plot,
    element: ElementId,
    /// Where the bar begins in its strip.
    top: Length,
    bar: Length,
}

impl Drawing<'_> {
    fn bar(&self, bar: &Bar, pieces: &mut Vec<Piece>) {
        // Edges lie over the other parts.
        for over in [false, true] {
            for part in &bar.parts {
                let Some(series) = self.chart.series.get(part.series) else { continue };
                if (series.shade == Shade::Edge) != over || part.from >= part.to {
                    continue;
                }
                let (x, end) = (self.plot.x(part.from), self.plot.x(part.to));
                // An amount too small for the scale still shows.
                let width = (end - x).max(OUTLINE);
                let area = Area { x, y: self.top, width, height: self.bar, ink: Ink::Black };
                shade(series.shade, area, self.element, pieces);
            }
        }
    }

    /// Leads the eye from a bar to the next where an end of one lies over an end of the other.
    fn joints(&self, bar: &Bar, next: &Bar, height: Length, pieces: &mut Vec<Piece>) {
        let ends = |bar: &Bar| -> std::collections::BTreeSet<i64> {
            let filled = bar.parts.iter().filter(|part| part.from < part.to);
            filled.flat_map(|part| [part.from, part.to]).collect()
        };
        for end in ends(bar).intersection(&ends(next)).filter(|end| **end != self.plot.scale.0) {
            let y = self.top + self.bar;
            let height = height - self.bar;
            let x = self.plot.x(*end) - LIGHT_RULE;
            pieces
                .push(Piece::Shape(Area { x, y, width: LIGHT_RULE, height, ink: Ink::Black }, self.element));
        }
    }
}

/// Draws an area in a shade.
fn shade(shade: Shade, area: Area, element: ElementId, pieces: &mut Vec<Piece>) {
    let mut fill = |area: Area| pieces.push(Piece::Shape(area, element));
    match shade {
        Shade::Dark => fill(Area { ink: Ink::Dark, ..area }),
        Shade::Light | Shade::Open => {
            if shade == Shade::Light {
                fill(Area { ink: Ink::Light, ..area.clone() });
            }
            let line = OUTLINE.min(area.width);
            let ink = Ink::Dark;
            fill(Area { height: OUTLINE, ink, ..area.clone() });
            fill(Area { y: area.y + area.height - OUTLINE, height: OUTLINE, ink, ..area.clone() });
            fill(Area { width: line, ink, ..area.clone() });
            fill(Area { x: area.x + area.width - line, width: line, ink, ..area });
        }
        Shade::Edge => fill(Area { y: area.y - EDGE / 2, height: EDGE, ink: Ink::Black, ..area }),
    }
}

/// Sets words on one line.
fn line_of(words: &str, style: Style, faults: &mut Vec<PageFault>) -> Line {
    Line::of(&measure::atoms(&plain(words), style, faults))
}

/// Sets words into lines.
fn lines_in(words: &str, width: Length, style: Style, faults: &mut Vec<PageFault>) -> Vec<Line> {
    let atoms = measure::split_long(measure::atoms(&plain(words), style, faults), width, style.size);
    breaks::total_fit(&atoms, width).into_iter().map(|range| Line::of(&atoms[range])).collect()
}
