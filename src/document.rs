//! A document as structure: headings, paragraphs, lists, tables, drawings of amounts, address blocks.
//!
//! Comes in: words and figures from `sheet` and `letter`. Goes out: [`Document`], read by `page` (and by other
//! writers of the same words). Knows neither tax nor points.

use crate::picture::Picture;

/// One document: a worksheet or a letter.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Document {
    /// Title, for the file's properties.
    pub title: String,
    /// Language tag, such as `en`.
    pub language: String,
    /// What the file is about, for its properties.
    pub subject: String,
    /// Who made it, for the file's properties.
    pub author: String,
    /// How its pages are set.
    pub setting: Setting,
    /// What stands on every page.
    pub furniture: Furniture,
    /// The content, in reading order.
    pub blocks: Vec<Block>,
}

/// The two ways pages are set.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Setting {
    /// A worksheet: narrow margins, small type, tables.
    #[default]
    Worksheet,
    /// A letter: wide margins, reading type, window address.
    Letter,
}

/// What stands on every page, outside the flow. `{page}` and `{pages}` are replaced by numbers.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Furniture {
    /// Head of the page, left and right; on letters only from the second page on.
    pub head: (String, String),
    /// Foot of the page, left and right.
    pub foot: (String, String),
    /// A word across the head of every page, such as `DRAFT`.
    pub mark: Option<String>,
}

/// A run of words in one style.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Run {
    /// The words.
    pub text: String,
    /// Bold.
    pub strong: bool,
    /// Italic.
    pub emphasis: bool,
    /// The name of the value that the words print, such as `2025:440`, for files that compute; none where words are
    /// only words.
    pub value: Option<String>,
}

/// Words with styles.
pub type Words = Vec<Run>;

/// Makes plain words.
pub fn plain(text: impl Into<String>) -> Words {
    vec![Run { text: text.into(), ..Run::default() }]
}

/// Makes plain words that print a value, with its name.
pub fn valued(text: impl Into<String>, name: impl Into<String>) -> Words {
    vec![Run { text: text.into(), value: Some(name.into()), ..Run::default() }]
}

/// Makes a heading, level 1 to 3.
pub fn heading(level: u8, words: impl Into<String>) -> Block {
    Block::Heading { level, words: plain(words) }
}

/// Makes a column.
pub fn column(head: impl Into<String>, width: Width, align: Align) -> Column {
    Column { head: head.into(), width, align }
}

/// Makes an ordinary row of plain words.
pub fn body(cells: impl IntoIterator<Item = impl Into<String>>) -> Row {
    Row { cells: cells.into_iter().map(plain).collect(), role: Role::Body }
}

/// Makes bold words.
pub fn strong(text: impl Into<String>) -> Words {
    vec![Run { text: text.into(), strong: true, ..Run::default() }]
}

/// One piece of content.
#[derive(Clone, Debug, PartialEq)]
pub enum Block {
    /// A heading, level 1 to 3. Stays with what follows.
    Heading {
        /// 1 to 3.
        level: u8,
        /// The words.
        words: Words,
    },
    /// A paragraph.
    Paragraph(Words),
    /// A paragraph in small type, for cautions and notes under tables.
    Small(Words),
    /// A list.
    List {
        /// Numbered, or with marks.
        ordered: bool,
        /// Each item's content.
        items: Vec<Vec<Block>>,
    },
    /// A table.
    Table(Table),
    /// A drawing of amounts.
    Chart(Chart),
    /// A box of key facts that stays in one piece: for the summary.
    Panel(Vec<Block>),
    /// Letter: the sender's mark, at the head of the first page, beside the sender.
    Logo(Picture),
    /// Letter: sender, at the head of the first page.
    Sender(Vec<String>),
    /// Letter: the address that shows through a window; at most five lines.
    Address(Vec<String>),
    /// Letter: date and reference lines.
    DateLines(Vec<String>),
    /// Pieces that stay together on a page where they fit.
    Together(Vec<Block>),
    /// Blank space of so many lines.
    Space(u8),
    /// A new page.
    PageBreak,
}

/// A table whose heading repeats on every page it runs over.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Table {
    /// What the table shows, in words, for those who cannot see it.
    pub summary: String,
    /// The columns.
    pub columns: Vec<Column>,
    /// The rows, in order.
    pub rows: Vec<Row>,
}

/// A drawing of amounts: bars under each other on one scale, each beside its name and its numbers.
///
/// A bar need not begin where the scale does, so a way from one amount to another can be drawn as well as
/// amounts beside each other. What the drawing shows is also said in words, in `summary` and by the numbers; no
/// shade carries a meaning alone.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Chart {
    /// What the drawing shows, in whole sentences, for those who cannot see it.
    pub summary: String,
    /// The heading of the bars' names.
    pub head: String,
    /// The headings of the numbers beside the bars.
    pub columns: Vec<String>,
    /// What the parts of bars stand for.
    pub series: Vec<Series>,
    /// The bars, in order.
    pub bars: Vec<Bar>,
}

/// What a shade stands for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Series {
    /// Its name, for the key.
    pub name: String,
    /// How it is drawn.
    pub shade: Shade,
}

/// How a part of a bar is drawn; told apart also on a bad copy.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Shade {
    /// Filled, dark.
    #[default]
    Dark,
    /// Filled, light, with an outline.
    Light,
    /// Only an outline.
    Open,
    /// A strong rule along the upper edge of the bar, over the other parts.
    Edge,
}

/// One bar with its name and its numbers.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Bar {
    /// What it is.
    pub name: String,
    /// Its numbers as printed, one for each column.
    pub numbers: Vec<String>,
    /// Its parts.
    pub parts: Vec<Stretch>,
    /// It sums up those before it: bold.
    pub total: bool,
}

/// A part of a bar, from one point of the scale to another. The unit is any whole one, the same for all bars.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Stretch {
    /// Which of the chart's series.
    pub series: usize,
    /// Where it begins.
    pub from: i64,
    /// Where it ends.
    pub to: i64,
}

/// One column.
#[derive(Clone, Debug, PartialEq)]
pub struct Column {
    /// Its heading.
    pub head: String,
    /// Its width.
    pub width: Width,
    /// How its cells are set.
    pub align: Align,
}

/// How wide a column is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Width {
    /// As wide as its widest cell.
    Content,
    /// So many parts of what is left.
    Parts(u8),
}

/// How cells are set.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Align {
    /// At the left.
    #[default]
    Left,
    /// At the right.
    Right,
    /// Numbers aligned at their decimal point.
    Decimal,
}

/// One row.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Row {
    /// Its cells, one per column; a single cell spans the row.
    pub cells: Vec<Words>,
    /// How it is drawn.
    pub role: Role,
}

/// What a row is.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Role {
    /// An ordinary row.
    #[default]
    Body,
    /// A heading inside the table; stays with the next row.
    Group,
    /// A total; a rule above it, and bold.
    Total,
    /// A remark under the row before it, in small type; stays with that row.
    Remark,
}
