//! Strips onto pages.
//!
//! Comes in: a column of [`Strip`]s, each with its height, the space it wants around it and how firmly it clings
//! to the next. Goes out: pieces at their places, page by page. Knows regions and heights; nothing of words.

use super::frame::{Area, Bookmark, Piece, Text};
use super::units::Length;
use std::ops::Range;
use std::rc::Rc;

/// A slice of the flow that no page break divides: a line of text, a row of a table.
#[derive(Clone, Debug, Default)]
pub(super) struct Strip {
    /// How high it is.
    pub height: Length,
    /// What stands in it: left edges from the sheet's, heights from the strip's own top.
    pub pieces: Vec<Piece>,
    /// Space wanted above; of two that meet the larger holds. None at the head of a page.
    pub before: Length,
    /// Space wanted below.
    pub after: Length,
    /// How firmly it clings to the next.
    pub cling: Cling,
    /// What is drawn again above it when it comes to stand at the head of a page.
    pub head: Option<Rc<TableHead>>,
    /// A heading's level and words.
    pub bookmark: Option<(u8, String)>,
    /// Begins a new page.
    pub new_page: bool,
}

/// How firmly a strip clings to the next. Where all that clings together is higher than a page, the weakest
/// hold gives way first.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Cling {
    /// A page may end here.
    #[default]
    Free,
    /// Pieces that were asked to stay together.
    Block,
    /// A heading and what follows, a total and its row, the first and last two lines of a paragraph.
    Firm,
    /// Lines of one row.
    Row,
}

impl Cling {
    fn next(self) -> Option<Cling> {
        match self {
            Cling::Free => Some(Cling::Block),
            Cling::Block => Some(Cling::Firm),
            Cling::Firm => Some(Cling::Row),
            Cling::Row => None,
        }
    }
}

/// The heading of a table, to be drawn again on each page.
#[derive(Clone, Debug, Default)]
pub(super) struct TableHead {
    /// How high it is.
    pub height: Length,
    /// Its pieces, which belong to no element: the structure names the heading once.
    pub pieces: Vec<Piece>,
}

/// What of a page belongs to the flow.
#[derive(Clone, Copy, Debug)]
pub(super) struct Region {
    /// Where it begins.
    pub top: Length,
    /// Where it ends.
    pub bottom: Length,
}

impl Region {
    fn height(self) -> Length {
        self.bottom - self.top
    }
}

/// The filled pages.
pub(super) struct Filled {
    /// The pieces of each page; at least one page.
    pub pages: Vec<Vec<Piece>>,
    /// The headings.
    pub bookmarks: Vec<Bookmark>,
}

/// Fills pages with strips. The first page may have another region than the later ones.
///
/// Where closer spaces save a page, they are taken. A last page with less than `least` on it looks like an accident,
/// so as much is drawn over from the page before.
pub(super) fn fill(mut strips: Vec<Strip>, first: Region, later: Region, least: Length) -> Filled {
    let wide = (Spaces::Wide, place(&strips, first, later, Spaces::Wide));
    let close = || (Spaces::Close, place(&strips, first, later, Spaces::Close));
    let fewest = match pages_of(&wide.1) {
        1 => None,
        pages => Some(close()).filter(|(_, places)| pages_of(places) < pages),
    };
    let (spaces, mut places) = fewest.unwrap_or(wide);
    if let Some(start) = scant_last_page(&strips, &places, later, least)
        && let Some(earlier) = earlier_start(&strips, &places, start, later, least)
    {
        strips[earlier].new_page = true;
        places = place(&strips, first, later, spaces);
    }
    draw(strips, &places)
}

/// How far blocks stand apart.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Spaces {
    /// As they ask.
    Wide,
    /// Seven tenths of it.
    Close,
}

/// Where a strip stands.
#[derive(Clone, Copy, Debug)]
struct Place {
    /// Its page, counted from nought.
    page: usize,
    /// Its upper edge.
    y: Length,
    /// The table heading is drawn again above it, from here.
    head: Option<Length>,
}

fn pages_of(places: &[Place]) -> usize {
    places.last().map_or(1, |last| last.page + 1)
}

/// Places every strip.
fn place(strips: &[Strip], first: Region, later: Region, spaces: Spaces) -> Vec<Place> {
    let places = Vec::with_capacity(strips.len());
    let mut filler = Filler { strips, first, later, spaces, places, turned: 0, page: Page::at(first) };
    filler.place(0..strips.len(), Cling::Block);
    filler.places
}

/// Returns where the last page begins, if it holds less than it should and nobody asked for it.
fn scant_last_page(strips: &[Strip], places: &[Place], later: Region, least: Length) -> Option<usize> {
    let last = places.last()?.page;
    let start = places.iter().position(|place| place.page == last)?;
    let end = places.last()?.y + strips.last()?.height;
    (last > 0 && !strips[start].new_page && end - later.top < least).then_some(start)
}

/// Returns the latest strip before the last page at which that page could begin instead, so that it holds
/// enough; none where a page would have to be broken where it must not.
fn earlier_start(
    strips: &[Strip],
    places: &[Place],
    start: usize,
    later: Region,
    least: Length,
) -> Option<usize> {
    let page = places[start].page.checked_sub(1)?;
    let on_last = places.last()?.y + strips.last()?.height - later.top;
    let end = places[start - 1].y + strips[start - 1].height;
    (1..start)
        .rev()
        .take_while(|at| places[*at].page == page && places[at - 1].page == page)
        .filter(|at| strips[at - 1].cling == Cling::Free)
        .find(|at| {
            let head = strips[*at].head.as_ref().map_or(Length::ZERO, |head| head.height);
            end - places[*at].y + head + on_last >= least
        })
        // The page before must not become what the last one was.
        .filter(|at| places[*at].y - later.top >= least)
}

/// Draws every strip where it was placed.
fn draw(strips: Vec<Strip>, places: &[Place]) -> Filled {
    let mut filled = Filled { pages: vec![Vec::new(); pages_of(places)], bookmarks: Vec::new() };
    for (strip, place) in strips.into_iter().zip(places) {
        let page = &mut filled.pages[place.page];
        if let (Some(head), Some(y)) = (&strip.head, place.head) {
            page.extend(head.pieces.iter().map(|piece| moved_down(piece.clone(), y)));
        }
        if let Some((level, words)) = strip.bookmark {
            filled.bookmarks.push(Bookmark { level, words, frame: place.page, y: place.y });
        }
        page.extend(strip.pieces.into_iter().map(|piece| moved_down(piece, place.y)));
    }
    filled
}

/// What belongs to the page being filled; made anew at each break.
struct Page {
    /// How far it is filled.
    y: Length,
    /// Space the last strip wants below it.
    after: Length,
    /// Nothing stands on it yet.
    empty: bool,
}

impl Page {
    fn at(region: Region) -> Page {
        Page { y: region.top, after: Length::ZERO, empty: true }
    }
}

struct Filler<'a> {
    strips: &'a [Strip],
    first: Region,
    later: Region,
    spaces: Spaces,
    places: Vec<Place>,
    /// How many pages were turned.
    turned: usize,
    page: Page,
}

impl Filler<'_> {
    /// Places strips so that those which cling at least so firmly stay on one page where they fit.
    fn place(&mut self, range: Range<usize>, firmness: Cling) {
        let mut start = range.start;
        while start < range.end {
            let end = (start..range.end)
                .find(|at| self.strips[*at].cling < firmness || self.next_breaks(*at))
                .map_or(range.end, |at| at + 1);
            self.place_chain(start..end, firmness);
            start = end;
        }
    }

    fn next_breaks(&self, at: usize) -> bool {
        self.strips.get(at + 1).is_some_and(|next| next.new_page)
    }

    /// Places a chain on this page, or on the next, or, when it is higher than a page, in parts.
    fn place_chain(&mut self, chain: Range<usize>, firmness: Cling) {
        if self.strips[chain.start].new_page && !self.page.empty {
            self.turn();
        }
        if self.height_here(chain.clone()).fits(self.region().bottom - self.page.y) {
            chain.for_each(|at| self.put(at));
        } else if !self.page.empty
            && self.height_on_fresh(chain.clone()).fits(self.later.height())
            && (firmness > Cling::Block || !self.much_is_left())
        {
            self.turn();
            chain.for_each(|at| self.put(at));
        } else if let Some(firmer) = firmness.next() {
            self.place(chain, firmer);
        } else {
            for at in chain {
                if !self.height_here(at..at + 1).fits(self.region().bottom - self.page.y) && !self.page.empty
                {
                    self.turn();
                }
                self.put(at);
            }
        }
    }

    /// Whether so much of this page is free that turning it would leave a hole: more than a quarter.
    fn much_is_left(&self) -> bool {
        self.region().bottom - self.page.y > self.region().height() / 4
    }

    fn region(&self) -> Region {
        if self.turned == 0 { self.first } else { self.later }
    }

    /// How much of this page a chain would take from here on.
    fn height_here(&self, chain: Range<usize>) -> Length {
        let mut height = self.height_of(chain.clone());
        let first = &self.strips[chain.start];
        if self.page.empty {
            height += first.head.as_ref().map_or(Length::ZERO, |head| head.height);
        } else {
            height += self.between(self.page.after, first.before);
        }
        height
    }

    /// How much of an empty page a chain would take, with the table heading drawn again.
    fn height_on_fresh(&self, chain: Range<usize>) -> Length {
        let head = self.strips[chain.start].head.as_ref().map_or(Length::ZERO, |head| head.height);
        self.height_of(chain) + head
    }

    fn height_of(&self, chain: Range<usize>) -> Length {
        let strips = &self.strips[chain];
        let heights: Length = strips.iter().map(|strip| strip.height).sum();
        let gaps: Length = strips.windows(2).map(|pair| self.between(pair[0].after, pair[1].before)).sum();
        heights + gaps
    }

    /// The space between two strips: what the one wants below, or the other above.
    fn between(&self, after: Length, before: Length) -> Length {
        match self.spaces {
            Spaces::Wide => after.max(before),
            Spaces::Close => after.max(before) * 7 / 10,
        }
    }

    /// Begins a new page.
    fn turn(&mut self) {
        self.turned += 1;
        self.page = Page::at(self.later);
    }

    /// Puts a strip where the page is filled to.
    fn put(&mut self, at: usize) {
        let strip = &self.strips[at];
        let mut head_at = None;
        if self.page.empty {
            if let Some(head) = &strip.head {
                head_at = Some(self.page.y);
                self.page.y += head.height;
            }
        } else {
            self.page.y += self.between(self.page.after, strip.before);
        }
        let y = self.page.y;
        self.places.push(Place { page: self.turned, y, head: head_at });
        self.page = Page { y: y + strip.height, after: strip.after, empty: false };
    }
}

/// Moves a piece down.
pub(super) fn moved_down(piece: Piece, down: Length) -> Piece {
    let area = |area: Area| Area { y: area.y + down, ..area };
    match piece {
        Piece::Text(text) => Piece::Text(Text { y: text.y + down, ..text }),
        Piece::Area(it) => Piece::Area(area(it)),
        Piece::Outline(it) => Piece::Outline(area(it)),
        Piece::Shape(it, element) => Piece::Shape(area(it), element),
        Piece::Picture(it, picture, element) => Piece::Picture(area(it), picture, element),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::page::frame::Ink;

    const PAGE: Region = Region { top: Length::points(10), bottom: Length::points(110) };

    /// A strip whose only piece is an area as wide as its number, so that tests can tell where it went.
    fn strip(number: i64, height: i64, cling: Cling) -> Strip {
        let height = Length::points(height);
        let width = Length::points(number);
        let piece = Piece::Area(Area { x: Length::ZERO, y: Length::ZERO, width, height, ink: Ink::Black });
        Strip { height, pieces: vec![piece], cling, ..Strip::default() }
    }

    fn numbers(filled: &Filled) -> Vec<Vec<i64>> {
        let number = |piece: &Piece| match piece {
            Piece::Area(area) => area.width.in_millipoints() / 1000,
            _ => unreachable!("only areas here"),
        };
        filled.pages.iter().map(|page| page.iter().map(number).collect()).collect()
    }

    #[test]
    fn fills_page_after_page() {
        let strips = (1..=5).map(|n| strip(n, 40, Cling::Free)).collect();
        assert_eq!(numbers(&fill(strips, PAGE, PAGE, Length::ZERO)), [vec![1, 2], vec![3, 4], vec![5]]);
    }

    #[test]
    fn what_clings_moves_together() {
        let strips = vec![strip(1, 60, Cling::Free), strip(2, 20, Cling::Firm), strip(3, 40, Cling::Free)];
        assert_eq!(numbers(&fill(strips, PAGE, PAGE, Length::ZERO)), [vec![1], vec![2, 3]]);
    }

    #[test]
    fn the_weakest_hold_gives_way_first() {
        let strips = vec![
            strip(1, 60, Cling::Block),
            strip(2, 30, Cling::Firm),
            strip(3, 30, Cling::Block),
            strip(4, 60, Cling::Free),
        ];
        assert_eq!(numbers(&fill(strips, PAGE, PAGE, Length::ZERO)), [vec![1], vec![2, 3], vec![4]]);
    }

    #[test]
    fn a_weak_hold_gives_way_before_it_leaves_a_hole() {
        let list = |first| {
            let items = (2..=6).map(|n| strip(n, 12, if n < 6 { Cling::Block } else { Cling::Free }));
            std::iter::once(strip(1, first, Cling::Free)).chain(items).collect::<Vec<_>>()
        };
        // 20 of 100 are free: the list goes over whole. 40 are free: it is parted.
        assert_eq!(numbers(&fill(list(80), PAGE, PAGE, Length::ZERO)), [vec![1], vec![2, 3, 4, 5, 6]]);
        assert_eq!(numbers(&fill(list(60), PAGE, PAGE, Length::ZERO)), [vec![1, 2, 3, 4], vec![5, 6]]);
    }

    #[test]
    fn a_row_higher_than_a_page_goes_over_by_lines() {
        let mut strips: Vec<Strip> = (1..=14).map(|n| strip(n, 10, Cling::Row)).collect();
        strips[13].cling = Cling::Free;
        let before = strip(99, 50, Cling::Free);
        let filled = fill(std::iter::once(before).chain(strips).collect(), PAGE, PAGE, Length::ZERO);
        assert_eq!(numbers(&filled), [vec![99, 1, 2, 3, 4, 5], (6..=14).collect()]);
    }

    #[test]
    fn the_table_head_comes_again() {
        let piece = Piece::Area(Area {
            x: Length::ZERO,
            y: Length::ZERO,
            width: Length::points(77),
            height: Length::ZERO,
            ink: Ink::Black,
        });
        let head = Rc::new(TableHead { height: Length::points(20), pieces: vec![piece] });
        let row = |n| Strip { head: Some(Rc::clone(&head)), ..strip(n, 40, Cling::Free) };
        let strips = vec![strip(77, 20, Cling::Firm), row(1), row(2), row(3)];
        assert_eq!(numbers(&fill(strips, PAGE, PAGE, Length::ZERO)), [vec![77, 1, 2], vec![77, 3]]);
    }

    #[test]
    fn a_last_page_never_holds_a_scrap() {
        let scant = Length::points(30);
        let rows = |count| (1..=count).map(|n| strip(n, 10, Cling::Free)).collect::<Vec<_>>();
        let filled = fill(rows(11), PAGE, PAGE, scant);
        assert_eq!(numbers(&filled), [(1..=8).collect::<Vec<i64>>(), vec![9, 10, 11]]);
        // What clings comes along.
        let mut strips = rows(11);
        strips[7].cling = Cling::Firm;
        assert_eq!(numbers(&fill(strips, PAGE, PAGE, scant))[1], [8, 9, 10, 11]);
        // Enough is enough, and a page that was asked for may be short.
        assert_eq!(numbers(&fill(rows(13), PAGE, PAGE, scant))[1], [11, 12, 13]);
        let mut strips = rows(11);
        strips[10].new_page = true;
        assert_eq!(numbers(&fill(strips, PAGE, PAGE, scant))[1], [11]);
    }

    #[test]
    fn closer_spaces_are_taken_where_they_save_a_page() {
        let spaced = |n| Strip { after: Length::points(4), ..strip(n, 10, Cling::Free) };
        let pages = |count| numbers(&fill((1..=count).map(spaced).collect(), PAGE, PAGE, Length::ZERO));
        assert_eq!(pages(8).len(), 1);
        // Where they save none, all stands as wide as it asks.
        assert_eq!(pages(9), [(1..=7).collect::<Vec<i64>>(), vec![8, 9]]);
    }

    #[test]
    fn a_new_page_begins_where_asked_and_never_twice() {
        let mut strips: Vec<Strip> = (1..=3).map(|n| strip(n, 10, Cling::Firm)).collect();
        strips[0].new_page = true;
        strips[2].new_page = true;
        assert_eq!(numbers(&fill(strips, PAGE, PAGE, Length::ZERO)), [vec![1, 2], vec![3]]);
    }
}
