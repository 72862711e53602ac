//! One question on a terminal: a line to type and correct, or a list to choose from.
//!
//! Comes in: a question, and keys. Goes out: what was typed or chosen, once it can be taken. An answered question stays
//! on the screen as plain lines would show it, list and all; one that cannot be taken is explained, and the text stays to
//! be corrected. Everything is drawn on standard error.

mod line;
mod list;

use super::size;
use crate::begin::asking::read;
use crate::begin::{Question, Reply};
use crate::case::single::{Refusal, without_numbers};
use crate::characters::harmless;
use crate::wrap::{columns, wrapped_at};
use crossterm::cursor::{Hide, MoveToColumn, MoveUp, Show};
use crossterm::event::{
    DisableBracketedPaste, EnableBracketedPaste, Event, KeyCode, KeyEvent, KeyEventKind, read as next_event,
};
use crossterm::style::{Color, Print, ResetColor, SetForegroundColor};
use crossterm::terminal::{Clear, ClearType, disable_raw_mode, enable_raw_mode};
use crossterm::{execute, queue};
use line::{Asked, Line};
use list::List;
use std::io::{self, stderr};

/// What stands under a line, and under a list.
const KEYS_OF_A_LINE: &str = "? explains, Esc goes back, Ctrl-C stops and keeps your answers";
const KEYS_OF_A_LIST: &str =
    "number, letters or arrows, then Enter; ? explains, Esc goes back, Ctrl-C stops and keeps your answers";
/// What leaves an optional question without an answer, as a choice.
const LEAVE_OUT: &str = "leave out";
/// The words that are no answers, which the conversation understands.
const COMMANDS: [&str; 2] = ["back", "later"];

/// Asks a question, and returns what was typed or chosen.
pub(super) fn ask(question: &Question) -> Reply {
    let Ok(mut frame) = Frame::open() else { return Reply::Gone };
    let reply = match question.choices.is_empty() {
        true => typed(question, &mut frame),
        false => chosen(question, &mut frame),
    };
    // What can no longer be drawn on or read from is a terminal that was closed.
    reply.unwrap_or(Reply::Gone)
}

fn typed(question: &Question, frame: &mut Frame) -> io::Result<Reply> {
    let mut line = Line::default();
    loop {
        let asked = rows(&words(question), Tone::Plain);
        frame.draw(&asked, &line, &[], &rows(KEYS_OF_A_LINE, Tone::Quiet))?;
        let ended = match frame.next()? {
            Typed::Key(key) => line.take(key),
            Typed::Pasted(text) => {
                line.paste(&text);
                Asked::Nothing
            }
            Typed::Other => Asked::Nothing,
        };
        let text = line.text();
        match ended {
            Asked::Nothing => {}
            Asked::Back => return frame.left("(back)", &asked),
            Asked::Stop => return frame.stopped(&asked),
            Asked::Enter if text.trim() == "?" || is_command(&text) => {
                frame.close(&asked, Some(&line), &[])?;
                return Ok(Reply::Typed(text));
            }
            Asked::Enter => match read(question, &text) {
                Ok(_) => {
                    let taken = if text.trim().is_empty() { question.default_shown() } else { None };
                    frame.close(&asked, Some(&taken.map_or(line, |taken| Line::new(&taken))), &[])?;
                    return Ok(Reply::Typed(text));
                }
                Err(refusal) => {
                    frame.refuse(&refusal)?;
                    line = to_correct(&text, &refusal);
                }
            },
        }
    }
}

/// Returns the text that stays after a refusal: what can only be meant, or what was typed. A number that no case may hold
/// does not stay.
fn to_correct(typed: &str, refusal: &Refusal) -> Line {
    // Nine digits without hyphens are a number where one is asked for.
    let as_number = format!("tin {typed}");
    match &refusal.instead {
        Some(instead) => Line::new(instead),
        None if refusal.forgotten || without_numbers(&as_number) != as_number => Line::default(),
        None => Line::new(typed),
    }
}

fn is_command(text: &str) -> bool {
    COMMANDS.contains(&text.trim().to_lowercase().as_str())
}

fn chosen(question: &Question, frame: &mut Frame) -> io::Result<Reply> {
    let mut labels: Vec<String> = question.choices.iter().map(|one| one.label.clone()).collect();
    if question.optional {
        labels.push(LEAVE_OUT.to_string());
    }
    let usual = question.default_shown().and_then(|shown| labels.iter().position(|label| *label == shown));
    let mut list = List { labels, at: usual.unwrap_or(0) };
    let mut line = Line::default();
    loop {
        let asked = rows(&question.words, Tone::Plain);
        let (shown, keys) = choices(&list, asked.len() + input(&line).len());
        frame.draw(&asked, &line, &shown, &keys)?;
        let ended = match frame.next()? {
            Typed::Key(key) => match key.code {
                KeyCode::Up | KeyCode::Down | KeyCode::Tab | KeyCode::BackTab => {
                    list.go(if matches!(key.code, KeyCode::Up | KeyCode::BackTab) { -1 } else { 1 });
                    line = Line::default();
                    continue;
                }
                KeyCode::PageUp | KeyCode::PageDown => {
                    list.at = if key.code == KeyCode::PageUp { 0 } else { list.labels.len() - 1 };
                    line = Line::default();
                    continue;
                }
                _ => line.take(key),
            },
            Typed::Pasted(text) => {
                line.paste(&text);
                Asked::Nothing
            }
            Typed::Other => Asked::Nothing,
        };
        let text = line.text();
        let found = text.trim().is_empty() || list.go_to(&text) || go_to_word(&mut list, question, &text);
        match ended {
            Asked::Back => return frame.left("(back)", &asked),
            Asked::Stop => return frame.stopped(&asked),
            Asked::Nothing if text.trim() != "?" => {}
            Asked::Enter if found => {
                let (shown, _) = choices(&list, asked.len() + input(&line).len());
                frame.close(&asked, None, &shown)?;
                let choice = question.choices.get(list.at);
                return Ok(Reply::Typed(choice.map_or("none", |one| &one.word).to_string()));
            }
            Asked::Enter if !is_command(&text) && text.trim() != "?" => {
                if let Err(refusal) = read(question, &text) {
                    frame.refuse(&refusal)?;
                    line = to_correct(&text, &refusal);
                }
            }
            Asked::Nothing | Asked::Enter => {
                frame.close(&asked, Some(&line), &[])?;
                return Ok(Reply::Typed(text));
            }
        }
    }
}

/// Goes to the choice that is meant by a word which plain lines take and no label has, such as `none` or the word of the
/// case. False where it means none.
fn go_to_word(list: &mut List, question: &Question, typed: &str) -> bool {
    let Ok(word) = read(question, typed) else { return false };
    // What is left out is the last one.
    let at = question.choices.iter().position(|one| one.word == word);
    list.at = at.unwrap_or(list.labels.len() - 1);
    true
}

/// Returns the question with what Enter takes.
pub(super) fn words(question: &Question) -> String {
    match question.default_shown() {
        Some(default) => format!("{} [{default}]", question.words),
        None => question.words.clone(),
    }
}

pub(super) fn refused(refusal: &Refusal) -> String {
    format!("{}; {}.", refusal.message.trim_end_matches('.'), refusal.help.trim_end_matches('.'))
}

// ---- What is on the screen ----

/// A row of the screen.
struct Row {
    text: String,
    tone: Tone,
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Tone {
    Plain,
    /// What Enter takes, or took.
    Chosen,
    /// What is no part of the conversation.
    Quiet,
}

/// What came from the keyboard.
enum Typed {
    Key(KeyEvent),
    Pasted(String),
    Other,
}

/// The rows of the question that is being asked, which are drawn anew with each key.
#[derive(Default)]
struct Frame {
    /// How many columns each row takes that was drawn above the cursor.
    above: Vec<usize>,
    /// The column of the cursor.
    column: usize,
}

impl Frame {
    fn open() -> io::Result<Frame> {
        enable_raw_mode()?;
        let frame = Frame::default();
        // A terminal that does not know it takes what is pasted for typed.
        let _ = execute!(stderr(), EnableBracketedPaste);
        Ok(frame)
    }

    fn next(&self) -> io::Result<Typed> {
        Ok(match next_event()? {
            Event::Key(key) if key.kind != KeyEventKind::Release => Typed::Key(key),
            Event::Paste(text) => Typed::Pasted(text),
            _ => Typed::Other,
        })
    }

    /// Draws the question, its choices, the line and what the keys do. Of more rows than the terminal has, those are
    /// drawn that the cursor is among: what leaves a terminal at its top cannot be taken away again.
    fn draw(&mut self, asked: &[Row], line: &Line, choices: &[Row], keys: &[Row]) -> io::Result<()> {
        let input = input(line);
        let (row, column) = cursor(line);
        let row = asked.len() + choices.len() + row;
        let all: Vec<&Row> = asked.iter().chain(choices).chain(&input).chain(keys).collect();
        let room = size::rows_of_errors();
        let first = (row + 1).saturating_sub(room);
        self.show(&all[first..all.len().min(first + room)], row - first, column)
    }

    /// Draws rows, and sets the cursor among them.
    fn show(&mut self, all: &[&Row], row: usize, column: usize) -> io::Result<()> {
        let mut out = stderr().lock();
        queue!(out, Hide)?;
        self.erase(&mut out)?;
        for (n, one) in all.iter().enumerate() {
            let end = if n == 0 { "" } else { "\r\n" };
            queue!(out, Print(end))?;
            match one.tone {
                Tone::Plain => queue!(out, Print(&one.text))?,
                Tone::Chosen => queue!(out, SetForegroundColor(Color::Cyan), Print(&one.text), ResetColor)?,
                Tone::Quiet => {
                    queue!(out, SetForegroundColor(Color::DarkGrey), Print(&one.text), ResetColor)?
                }
            }
        }
        up(&mut out, all.len().saturating_sub(1 + row))?;
        execute!(out, MoveToColumn(u16::try_from(column).unwrap_or(u16::MAX)), Show)?;
        self.above = all.iter().take(row).map(|one| columns(&one.text)).collect();
        self.column = column;
        Ok(())
    }

    /// Goes to the first row of the question, and takes it and all below from the screen.
    fn erase(&mut self, out: &mut impl io::Write) -> io::Result<()> {
        let broken =
            size::of_errors().map_or(self.above.len(), |columns| rows_at(&self.above, self.column, columns));
        up(out, broken)?;
        self.forget();
        queue!(out, MoveToColumn(0), Clear(ClearType::FromCursorDown))
    }

    /// Leaves the question on the screen as it was answered.
    fn close(&mut self, asked: &[Row], line: Option<&Line>, choices: &[Row]) -> io::Result<()> {
        let input = line.map(input).unwrap_or_default();
        let all: Vec<&Row> = asked.iter().chain(choices).chain(&input).collect();
        self.show(&all, all.len().saturating_sub(1), 0)?;
        self.forget();
        execute!(stderr(), Print("\r\n"))
    }

    /// Begins below what has been drawn.
    fn forget(&mut self) {
        self.above.clear();
        self.column = 0;
    }

    /// Leaves the question without an answer.
    fn left(&mut self, how: &str, asked: &[Row]) -> io::Result<Reply> {
        self.close(asked, None, &[Row { text: how.to_string(), tone: Tone::Quiet }])?;
        Ok(Reply::Back)
    }

    fn stopped(&mut self, asked: &[Row]) -> io::Result<Reply> {
        self.close(asked, None, &[])?;
        Ok(Reply::Gone)
    }

    /// Says above the question why what was typed cannot be taken.
    fn refuse(&mut self, refusal: &Refusal) -> io::Result<()> {
        let mut out = stderr().lock();
        self.erase(&mut out)?;
        for row in rows(&refused(refusal), Tone::Plain) {
            queue!(out, SetForegroundColor(Color::Red), Print(row.text), ResetColor, Print("\r\n"))?;
        }
        io::Write::flush(&mut out)
    }
}

impl Drop for Frame {
    fn drop(&mut self) {
        let _ = execute!(stderr(), DisableBracketedPaste, Show);
        let _ = disable_raw_mode();
    }
}

/// Returns how many rows are above the cursor by now: a terminal that was made narrower has broken the rows drawn.
fn rows_at(above: &[usize], column: usize, columns: usize) -> usize {
    above.iter().map(|width| width.div_ceil(columns).max(1)).sum::<usize>() + column / columns
}

/// Returns the rows of the choices that there is room for beside others, and those that say what the keys do.
fn choices(list: &List, beside: usize) -> (Vec<Row>, Vec<Row>) {
    const INDENT: &str = "      ";
    let choice = |n: usize| {
        let (mark, tone) = if n == list.at { ('>', Tone::Chosen) } else { (' ', Tone::Plain) };
        rows_indented(&format!("{mark} {:>2}  {}", n + 1, list.labels[n]), tone, INDENT)
    };
    let count = list.labels.len();
    let keys = |from: usize, to: usize| {
        let more = format!("{} to {to} of {count}; ", from + 1);
        let more = if to - from < count { more.as_str() } else { "" };
        rows(&format!("{more}{KEYS_OF_A_LIST}"), Tone::Quiet)
    };
    // One row is to spare, and keys that are told in part take as many as they ever can.
    let room = size::rows_of_errors().saturating_sub(beside + 1);
    let height = |label: &str| rows_indented(&format!("{INDENT}{label}"), Tone::Plain, INDENT).len();
    let all: usize = list.labels.iter().map(|label| height(label)).sum();
    let (from, to) = match all + keys(0, count).len() <= room {
        true => (0, count),
        false => list.page(room.saturating_sub(keys(count - 1, count).len()).max(3), height),
    };
    ((from..to).flat_map(choice).collect(), keys(from, to))
}

fn up(out: &mut impl io::Write, by: usize) -> io::Result<()> {
    match u16::try_from(by) {
        // Terminals take a move by nothing for one by one.
        Ok(0) | Err(_) => Ok(()),
        Ok(by) => queue!(out, MoveUp(by)),
    }
}

/// How many columns a row has at most: one less than the terminal, behind whose last one some go on and some wait.
fn width() -> usize {
    size::of_errors().map_or(size::WITHOUT_TERMINAL, |columns| columns - 1)
}

fn rows(text: &str, tone: Tone) -> Vec<Row> {
    rows_indented(text, tone, "  ")
}

fn rows_indented(text: &str, tone: Tone, indent: &str) -> Vec<Row> {
    let text = wrapped_at(&harmless(text), width(), indent);
    text.lines().flat_map(|line| cut(line, width())).map(|text| Row { text, tone }).collect()
}

/// Returns the rows of what is typed.
fn input(line: &Line) -> Vec<Row> {
    let text = cut(&format!("> {}", harmless(&line.text())), width());
    text.into_iter().map(|text| Row { text, tone: Tone::Chosen }).collect()
}

/// Returns the row and the column of the cursor among the rows of what is typed.
fn cursor(line: &Line) -> (usize, usize) {
    let before = cut(&format!("> {}", harmless(&line.before_cursor())), width());
    let last = before.last().map_or(0, |row| columns(row));
    // At the end of a full row the next character goes into the next one, which may not be there yet.
    (before.len().saturating_sub(1), last)
}

/// Cuts a line into pieces of so many columns.
fn cut(line: &str, most: usize) -> Vec<String> {
    let mut pieces = vec![String::new()];
    for c in line.chars() {
        let mut grown = pieces.pop().unwrap_or_default();
        grown.push(c);
        if columns(&grown) > most && grown.chars().count() > 1 {
            grown.pop();
            pieces.push(grown);
            grown = c.to_string();
        }
        pieces.push(grown);
    }
    pieces
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::begin::Choice;

    #[test]
    fn a_long_line_is_cut_at_the_border() {
        assert_eq!(cut("abcdef", 3), ["abc", "def"]);
        assert_eq!(cut("", 3), [""]);
        // Two columns for one character.
        assert_eq!(cut("a\u{4e2d}\u{4e2d}b", 3), ["a\u{4e2d}", "\u{4e2d}b"]);
        assert_eq!(cut("\u{4e2d}\u{4e2d}", 1), ["\u{4e2d}", "\u{4e2d}"]);
    }

    #[test]
    fn rows_that_a_narrower_terminal_broke_are_counted() {
        let above = [70, 0, 40, 41];
        assert_eq!(rows_at(&above, 2, 80), 4);
        assert_eq!(rows_at(&above, 2, 40), 2 + 1 + 1 + 2);
        assert_eq!(rows_at(&above, 45, 40), 7);
        assert_eq!(rows_at(&[], 0, 20), 0);
    }

    #[test]
    fn a_word_that_plain_lines_take_chooses_from_a_list() {
        let choices = vec![Choice::new("heat_pump", "a pump for heat"), Choice::new("roof", "a roof")];
        let labels = ["a pump for heat", "a roof", LEAVE_OUT].map(String::from).to_vec();
        let mut list = List { labels, at: 0 };
        let question = Question { optional: true, ..Question::menu("Which?", choices) };
        for (typed, at) in [("Heat_Pump", Some(0)), ("none", Some(2)), ("furnace", None)] {
            assert_eq!(go_to_word(&mut list, &question, typed).then_some(list.at), at, "{typed}");
        }
    }

    #[test]
    fn a_refused_text_stays_to_be_corrected() {
        let refusal = Refusal::new("no", "write something else");
        assert_eq!(to_correct("5/32/24", &refusal), Line::new("5/32/24"));
        let instead = Refusal { instead: Some("2024-05-14".to_string()), ..Refusal::new("no", "") };
        assert_eq!(to_correct("5/14/2024", &instead), Line::new("2024-05-14"));
        // A number that no case may hold is taken from the screen.
        for number in ["Ana 123-45-6789", "123456789"] {
            assert_eq!(to_correct(number, &refusal), Line::default());
        }
        let nine =
            crate::case::single::read(crate::case::single::Form::LastFour, "123456789").expect_err("refused");
        assert_eq!(to_correct("123456789", &nine), Line::default());
    }
}
