//! What stands on every page outside the flow: head, foot, and a mark such as DRAFT.
//!
//! Comes in: the words, with `{page}` and `{pages}` for the numbers. Goes out: their pieces for each page, and
//! how much room they leave. They belong to no element of the structure.

use super::PageFault;
use super::breaks;
use super::flow::Region;
use super::frame::{Area, Ink, Piece};
use super::look::{FOOT_BOTTOM, HEAD_TOP, LIGHT_RULE, Look, SHEET_HEIGHT, SHEET_WIDTH};
use super::measure::{self, Line, Style};
use super::paragraph::place_line;
use super::units::Length;
use crate::document::{Furniture, Setting, plain};

/// Type of the mark.
const MARK: Style = Style { size: Length::points(11), leading: Length::points(13), strong: true };
/// Where the box around the mark begins.
const MARK_TOP: Length = Length::points(18);
/// Between the words and the box around them, at the sides.
const MARK_PAD: Length = Length::points(9);
/// Between the left and the right words.
const APART: Length = Length::points(18);
/// Between head or foot and the rule beside it.
const RULE_GAP: Length = Length::points(3);
/// Between that rule and the flow.
const FLOW_GAP: Length = Length::points(9);

/// Head and foot of one document's pages.
pub(super) struct Fittings<'a> {
    furniture: &'a Furniture,
    setting: Setting,
    look: &'static Look,
}

impl<'a> Fittings<'a> {
    /// Takes the words of a document.
    pub fn new(furniture: &'a Furniture, setting: Setting) -> Fittings<'a> {
        Fittings { furniture, setting, look: Look::of(setting) }
    }

    /// Where the flow lies on pages with head and foot.
    pub fn region(&self, faults: &mut Vec<PageFault>) -> Region {
        let style = self.look.furniture;
        // The number of pages is not known yet; three figures are as wide as any count of pages here.
        let head = self.lines(&self.furniture.head, "000", "000", faults);
        let foot = self.lines(&self.furniture.foot, "000", "000", faults);
        let head_end = HEAD_TOP + style.leading * head.height() as i64 + RULE_GAP + FLOW_GAP;
        let foot_start = FOOT_BOTTOM + style.leading * foot.height() as i64 + RULE_GAP + FLOW_GAP;
        Region {
            top: if head.is_empty() { self.look.top } else { self.look.top.max(head_end) },
            bottom: SHEET_HEIGHT
                - if foot.is_empty() { self.look.bottom } else { self.look.bottom.max(foot_start) },
        }
    }

    /// Draws head, foot and mark of a page. Page and pages count from 1.
    pub fn draw(&self, page: usize, pages: usize, pieces: &mut Vec<Piece>) {
        // Every complaint was made when the region was measured.
        let mut ignored = Vec::new();
        let style = self.look.furniture;
        let (page_text, pages_text) = (page.to_string(), pages.to_string());
        let on_first_letter_page = self.setting == Setting::Letter && page == 1;
        let head = self.lines(&self.furniture.head, &page_text, &pages_text, &mut ignored);
        if !head.is_empty() && !on_first_letter_page {
            let end = HEAD_TOP + style.leading * head.height() as i64;
            head.draw(self.look, HEAD_TOP, pieces);
            self.rule(end + RULE_GAP, pieces);
        }
        let foot = self.lines(&self.furniture.foot, &page_text, &pages_text, &mut ignored);
        if !foot.is_empty() {
            let top = SHEET_HEIGHT - FOOT_BOTTOM - style.leading * foot.height() as i64;
            self.rule(top - RULE_GAP, pieces);
            foot.draw(self.look, top, pieces);
        }
        if let Some(mark) = &self.furniture.mark {
            draw_mark(mark, pieces);
        }
    }

    /// Complains about a mark the type cannot draw.
    pub fn check_mark(&self, faults: &mut Vec<PageFault>) {
        if let Some(mark) = &self.furniture.mark {
            measure::atoms(&plain(mark), MARK, faults);
        }
    }

    fn rule(&self, y: Length, pieces: &mut Vec<Piece>) {
        if self.look.furniture_rules {
            let (x, width) = (self.look.side, self.look.width());
            pieces.push(Piece::Area(Area { x, y, width, height: LIGHT_RULE, ink: Ink::Rule }));
        }
    }

    /// Sets left and right words: the right ones on one line where they can, the left ones in what is left.
    fn lines(
        &self,
        (left, right): &(String, String),
        page: &str,
        pages: &str,
        faults: &mut Vec<PageFault>,
    ) -> SideBySide {
        let style = self.look.furniture;
        let mut set = |text: &str, width: Length| -> Vec<Line> {
            let text = text.replace("{pages}", pages).replace("{page}", page);
            let atoms = measure::atoms(&plain(text), style, faults);
            let atoms = measure::split_long(atoms, width, style.size);
            breaks::greedy(&atoms, width).into_iter().map(|range| Line::of(&atoms[range])).collect()
        };
        let width = self.look.width();
        let right = set(right, width / 2);
        let right_width = right.iter().map(|line| line.width).max().unwrap_or_default();
        let left_width = if right.is_empty() { width } else { width - right_width - APART };
        SideBySide { left: set(left, left_width), right }
    }
}

/// Left and right lines of a head or a foot.
struct SideBySide {
    left: Vec<Line>,
    right: Vec<Line>,
}

impl SideBySide {
    fn is_empty(&self) -> bool {
        self.height() == 0
    }

    fn height(&self) -> usize {
        self.left.len().max(self.right.len())
    }

    fn draw(self, look: &Look, top: Length, pieces: &mut Vec<Piece>) {
        let style = look.furniture;
        let right_edge = look.side + look.width();
        for (at, line) in self.left.into_iter().enumerate() {
            place_line(
                pieces,
                line,
                look.side,
                top + style.leading * at as i64 + style.baseline(),
                style,
                None,
            );
        }
        for (at, line) in self.right.into_iter().enumerate() {
            let x = right_edge - line.width;
            place_line(pieces, line, x, top + style.leading * at as i64 + style.baseline(), style, None);
        }
    }
}

/// Draws the mark in a box, in the middle above the head, where no other words ever stand.
fn draw_mark(mark: &str, pieces: &mut Vec<Piece>) {
    let line = Line::of(&measure::atoms(&plain(mark), MARK, &mut Vec::new()));
    let width = line.width + MARK_PAD * 2;
    let x = (SHEET_WIDTH - width) / 2;
    pieces.push(Piece::Outline(Area { x, y: MARK_TOP, width, height: MARK.leading, ink: Ink::Black }));
    place_line(pieces, line, x + MARK_PAD, MARK_TOP + MARK.baseline(), MARK, None);
}
