//! How each setting looks: type sizes, margins, spaces.
//!
//! Nothing comes in; out goes one [`Look`] a setting. All taste stands here, so that it can be judged and
//! changed in one place. Sizes are ours, chosen for reading at arm's length and surviving a copier.

use super::measure::Style;
use super::units::Length;
use crate::document::Setting;

/// US Letter paper.
pub(super) const SHEET_WIDTH: Length = Length::milli_inches(8500);
/// US Letter paper.
pub(super) const SHEET_HEIGHT: Length = Length::milli_inches(11_000);

/// The measures of a setting.
pub(super) struct Look {
    /// From the sheet's side edges to the words.
    pub side: Length,
    /// Where the flow begins on pages with a head.
    pub top: Length,
    /// Where the flow ends at the latest, from the sheet's lower edge.
    pub bottom: Length,
    /// The least that a last page holds.
    pub last_page: Length,
    /// Running text.
    pub body: Style,
    /// Notes and cautions.
    pub small: Style,
    /// Headings of level 1 to 3.
    pub headings: [Style; 3],
    /// Space above headings of level 1 to 3.
    pub heading_before: [Length; 3],
    /// Space below headings of level 1 to 3.
    pub heading_after: [Length; 3],
    /// Space between paragraphs.
    pub gap: Length,
    /// Cells of tables.
    pub cell: Style,
    /// Headings of columns.
    pub column_head: Style,
    /// Remarks inside tables.
    pub remark: Style,
    /// Names and numbers beside the bars of drawings.
    pub chart: Style,
    /// How high the bars of drawings are.
    pub bar: Length,
    /// Text of panels.
    pub panel: Style,
    /// Head and foot of the page.
    pub furniture: Style,
    /// Rules that part head and foot from the flow.
    pub furniture_rules: bool,
    /// Between columns of a table.
    pub gutter: Length,
    /// Above and below the words of a row.
    pub row_pad: Length,
    /// Between the edges of a table and its words.
    pub table_inset: Length,
}

impl Look {
    /// The look of a setting.
    pub fn of(setting: Setting) -> &'static Look {
        match setting {
            Setting::Worksheet => &WORKSHEET,
            Setting::Letter => &LETTER,
        }
    }

    /// How wide the flow is.
    pub fn width(&self) -> Length {
        SHEET_WIDTH - self.side * 2
    }
}

/// Type of a size and leading in thousandths of a point.
const fn set(size: i64, leading: i64) -> Style {
    Style { size: Length::millipoints(size), leading: Length::millipoints(leading), strong: false }
}

/// The same, bold.
const fn bold(size: i64, leading: i64) -> Style {
    Style { strong: true, ..set(size, leading) }
}

/// Where the first line of the page's head begins; above it only the mark stands.
pub(super) const HEAD_TOP: Length = Length::points(38);
/// Where the last line of the page's foot ends, from the lower edge.
pub(super) const FOOT_BOTTOM: Length = Length::points(34);
/// Thickness of strong rules.
pub(super) const STRONG_RULE: Length = Length::millipoints(800);
/// Thickness of light rules.
pub(super) const LIGHT_RULE: Length = Length::millipoints(350);

static WORKSHEET: Look = Look {
    side: Length::milli_inches(600),
    top: Length::points(62),
    bottom: Length::milli_inches(600),
    last_page: Length::points(170),
    body: set(9200, 12_000),
    small: set(8000, 10_200),
    headings: [bold(17_000, 21_000), bold(12_000, 15_000), bold(9700, 12_500)],
    heading_before: [Length::points(4), Length::points(16), Length::points(9)],
    heading_after: [Length::points(7), Length::points(5), Length::points(3)],
    gap: Length::points(5),
    cell: set(8800, 11_200),
    column_head: bold(7800, 9400),
    remark: set(7800, 9600),
    chart: set(8800, 10_600),
    bar: Length::points(8),
    panel: set(10_200, 13_800),
    furniture: set(7600, 9600),
    furniture_rules: true,
    gutter: Length::points(11),
    row_pad: Length::millipoints(1900),
    table_inset: Length::points(3),
};

static LETTER: Look = Look {
    side: Length::milli_inches(1000),
    top: Length::milli_inches(1000),
    bottom: Length::milli_inches(1000),
    last_page: Length::points(90),
    body: set(11_000, 14_500),
    small: set(9000, 11_600),
    headings: [bold(14_000, 18_000), bold(11_800, 15_000), bold(11_000, 14_500)],
    heading_before: [Length::points(8), Length::points(12), Length::points(8)],
    heading_after: [Length::points(6), Length::points(3), Length::points(2)],
    gap: Length::points(7),
    cell: set(10_200, 13_200),
    column_head: bold(9000, 11_200),
    remark: set(9000, 11_200),
    chart: set(10_200, 12_600),
    bar: Length::points(9),
    panel: set(11_000, 14_500),
    furniture: set(8600, 10_800),
    furniture_rules: false,
    gutter: Length::points(14),
    row_pad: Length::millipoints(2400),
    table_inset: Length::points(3),
};
