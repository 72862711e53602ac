//! A reader of YAML for comparing: the part of YAML 1.2.2 that people write into cases, read straight from the rules of
//! that standard, whose sections are named beside them.
//!
//! Shares nothing with the program's own reading. It refuses whatever it does not know (tags, anchors, documents, keys
//! of several lines, tabs, explicit indentation), so that where it reads, it reads what the standard says.

/// What stands in a file, in its order.
#[derive(Clone, Debug, PartialEq)]
pub enum Part {
    /// Keys and values in turn, up to their end.
    Map,
    /// Values up to their end.
    List,
    /// The end of a map or list.
    End,
    /// A key or a text, and whether it stands without quotes; a key always counts as if it did.
    Text(String, bool),
    /// An absent value, `~` or `null`.
    Nothing,
}

/// Makes the part of a value; without quotes some words say that nothing stands there (10.3.2).
pub fn scalar(text: &str, plain: bool) -> Part {
    match plain && matches!(text, "" | "~" | "null" | "Null" | "NULL") {
        true => Part::Nothing,
        false => Part::Text(text.to_string(), plain),
    }
}

/// Reads a text; none where it is refused.
pub fn read(text: &str) -> Option<Vec<Part>> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text).replace("\r\n", "\n");
    let unknown = ['\t', '\r', '\u{feff}', '\u{85}', '\u{2028}', '\u{2029}'];
    let marks = |line: &str| line.starts_with("---") || line.starts_with("...") || line.starts_with('%');
    if text.contains(unknown) || text.lines().any(marks) {
        return None;
    }
    let mut reader = Reader { text: &text, at: 0, out: Vec::new() };
    reader.find_content();
    if reader.peek().is_none() {
        return Some(vec![Part::Nothing]);
    }
    reader.block(0, true)?;
    reader.find_content();
    reader.peek().is_none().then_some(reader.out)
}

struct Reader<'t> {
    text: &'t str,
    at: usize,
    out: Vec<Part>,
}

/// Says whether a character is one that flow collections are made of.
fn is_flow(c: char) -> bool {
    matches!(c, ',' | '[' | ']' | '{' | '}')
}

impl<'t> Reader<'t> {
    fn rest(&self) -> &'t str {
        &self.text[self.at..]
    }

    fn peek(&self) -> Option<char> {
        self.rest().chars().next()
    }

    /// How far in the place stands.
    fn column(&self) -> usize {
        self.at - self.text[..self.at].rfind('\n').map_or(0, |n| n + 1)
    }

    fn blanks(&mut self) {
        self.at += self.rest().len() - self.rest().trim_start_matches(' ').len();
    }

    /// Says whether a comment begins here: at the beginning of a line or behind a blank (6.6).
    fn comment(&self) -> bool {
        self.rest().starts_with('#') && (self.at == 0 || self.text[..self.at].ends_with([' ', '\n']))
    }

    fn line_end(&self) -> usize {
        self.rest().find('\n').map_or(self.text.len(), |n| self.at + n)
    }

    /// Passes over what is left of a line, which must be blank or a comment.
    fn end_line(&mut self) -> Option<()> {
        self.blanks();
        if self.comment() {
            self.at = self.line_end();
        }
        matches!(self.peek(), None | Some('\n')).then_some(())
    }

    /// Passes over blanks, comments and ends of lines.
    fn find_content(&mut self) {
        loop {
            self.blanks();
            if self.comment() {
                self.at = self.line_end();
            }
            match self.peek() {
                Some('\n') => self.at += 1,
                _ => return,
            }
        }
    }

    /// Says whether a sign stands here as an indicator: before a blank or the end of its line.
    fn indicator(&self, sign: char) -> bool {
        self.rest().strip_prefix(sign).is_some_and(|rest| rest.is_empty() || rest.starts_with([' ', '\n']))
    }

    /// A node in block style (8.2) that stands no further out than `least`. Only where nothing but indentation and the
    /// dashes of lists stands before it, it may be a list or keys.
    fn block(&mut self, least: usize, fresh: bool) -> Option<()> {
        if self.column() < least {
            return None;
        }
        match self.peek()? {
            '-' if self.indicator('-') => match fresh {
                true => self.block_list(),
                false => None,
            },
            '?' if self.indicator('?') => None,
            '|' | '>' => self.block_scalar(least),
            _ if fresh && self.key(false).is_some() => self.block_map(),
            '[' | '{' => {
                self.flow(least)?;
                self.end_line()
            }
            quote @ ('"' | '\'') => {
                let text = self.quoted(quote, Some(least))?;
                self.out.push(scalar(&text, false));
                self.end_line()
            }
            _ => {
                let text = self.plain(Some(least), false)?;
                self.out.push(scalar(&text, true));
                self.end_line()
            }
        }
    }

    /// 8.2.1
    fn block_list(&mut self) -> Option<()> {
        let column = self.column();
        self.out.push(Part::List);
        loop {
            self.at += 1;
            self.blanks();
            let line = self.line_end();
            self.find_content();
            let inline = self.at < line;
            if inline || self.peek().is_some() && self.column() > column {
                self.block(column + 1, true)?;
                self.find_content();
            } else {
                self.out.push(Part::Nothing);
            }
            match self.peek() {
                Some(_) if self.column() > column => return None,
                Some(_) if self.column() == column && self.indicator('-') => {}
                _ => break,
            }
        }
        self.out.push(Part::End);
        Some(())
    }

    /// 8.2.2
    fn block_map(&mut self) -> Option<()> {
        let column = self.column();
        self.out.push(Part::Map);
        loop {
            let (key, value) = self.key(false)?;
            self.out.push(Part::Text(key, true));
            self.at = value;
            self.blanks();
            let line = self.line_end();
            self.find_content();
            if self.at < line {
                self.block(column + 1, false)?;
                self.find_content();
            } else if self.peek().is_some() && self.column() > column {
                self.block(column + 1, true)?;
                self.find_content();
            } else if self.peek().is_some() && self.column() == column && self.indicator('-') {
                self.block_list()?;
            } else {
                self.out.push(Part::Nothing);
            }
            match self.peek() {
                Some(_) if self.column() > column => return None,
                Some(_) if self.column() == column => {}
                _ => break,
            }
        }
        self.out.push(Part::End);
        Some(())
    }

    /// Reads a key and returns it with the place behind its colon, if one stands here; goes nowhere (7.4.2, 8.2.2).
    fn key(&self, flow: bool) -> Option<(String, usize)> {
        let mut ahead = Reader { text: self.text, at: self.at, out: Vec::new() };
        let (text, adjacent) = match ahead.peek()? {
            quote @ ('"' | '\'') => (ahead.quoted(quote, None)?, flow),
            _ => (ahead.plain(None, flow)?, false),
        };
        ahead.blanks();
        let rest = ahead.rest().strip_prefix(':')?;
        let divides = |c: char| matches!(c, ' ' | '\n') || flow && is_flow(c);
        // Keys are short, and people have no longer ones.
        let short = ahead.at - self.at < 1_000;
        (short && (adjacent || rest.is_empty() || rest.starts_with(divides))).then_some((text, ahead.at + 1))
    }

    /// Goes behind the end of a line within a text, and says what that becomes: a blank, or as many line ends as lines
    /// are empty (6.5). What follows must not stand further out than `least`; without one, no line may end here.
    fn fold(&mut self, least: Option<usize>) -> Option<String> {
        let least = least?;
        let mut ends = 0;
        while self.peek() == Some('\n') {
            self.at += 1;
            self.blanks();
            ends += 1;
        }
        if self.peek().is_none() || self.column() < least {
            return None;
        }
        Some(if ends == 1 { " ".to_string() } else { "\n".repeat(ends - 1) })
    }

    /// 7.3.3
    fn plain(&mut self, least: Option<usize>, flow: bool) -> Option<String> {
        let first = self.peek()?;
        let second = self.rest().chars().nth(1);
        let safe = |c: char| !(matches!(c, ' ' | '\n') || flow && is_flow(c));
        match first {
            '-' | '?' | ':' if second.is_some_and(safe) => {}
            '-' | '?' | ':' => return None,
            c if is_flow(c) || "#&*!|>'\"%@`".contains(c) => return None,
            _ => {}
        }
        let mut text = String::new();
        loop {
            let start = self.at;
            let mut ended = false;
            while let Some(c) = self.peek().filter(|c| *c != '\n') {
                let next = self.rest().chars().nth(1);
                ended = match c {
                    ':' => !next.is_some_and(safe),
                    '#' => self.comment(),
                    c => flow && is_flow(c),
                };
                if ended {
                    break;
                }
                self.at += c.len_utf8();
            }
            text.push_str(self.text[start..self.at].trim_end_matches(' '));
            if ended {
                return Some(text);
            }
            // The text goes on where another line follows that is no comment.
            let here = self.at;
            match self.fold(least) {
                Some(between) if !(self.comment() || flow && self.peek().is_some_and(is_flow)) => {
                    // Only a plain sign goes on; a colon that divides belongs to no text.
                    if self.peek() == Some(':') && !self.rest().chars().nth(1).is_some_and(safe) {
                        return None;
                    }
                    text.push_str(&between);
                }
                _ => {
                    self.at = here;
                    return Some(text);
                }
            }
        }
    }

    /// 7.3.1, 7.3.2
    fn quoted(&mut self, quote: char, least: Option<usize>) -> Option<String> {
        self.at += 1;
        let mut text = String::new();
        // What stands before is never taken off at the end of a line.
        let mut kept = 0;
        loop {
            let c = self.peek()?;
            match c {
                '\n' => {
                    while text.len() > kept && text.ends_with(' ') {
                        text.pop();
                    }
                    text.push_str(&self.fold(least)?);
                    kept = text.len();
                    continue;
                }
                '\'' if quote == '\'' && self.rest().starts_with("''") => {
                    text.push('\'');
                    self.at += 2;
                    continue;
                }
                '\\' if quote == '"' => {
                    self.at += 1;
                    self.escape(&mut text, least)?;
                    kept = text.len();
                    continue;
                }
                c if c == quote => {
                    self.at += 1;
                    return Some(text);
                }
                c => text.push(c),
            }
            self.at += c.len_utf8();
        }
    }

    /// What stands behind a backslash (5.7).
    fn escape(&mut self, text: &mut String, least: Option<usize>) -> Option<()> {
        let c = self.peek()?;
        if c == '\n' {
            // The line goes on with no blank between; empty lines are line ends.
            let folded = self.fold(least)?;
            text.push_str(if folded == " " { "" } else { &folded });
            return Some(());
        }
        self.at += c.len_utf8();
        let digits = match c {
            'x' => 2,
            'u' => 4,
            'U' => 8,
            _ => {
                text.push(match c {
                    '0' => '\0',
                    'a' => '\u{7}',
                    'b' => '\u{8}',
                    't' => '\t',
                    'n' => '\n',
                    'v' => '\u{b}',
                    'f' => '\u{c}',
                    'r' => '\r',
                    'e' => '\u{1b}',
                    'N' => '\u{85}',
                    '_' => '\u{a0}',
                    'L' => '\u{2028}',
                    'P' => '\u{2029}',
                    ' ' | '"' | '/' | '\\' => c,
                    _ => return None,
                });
                return Some(());
            }
        };
        let written = self.rest().get(..digits).filter(|hex| hex.bytes().all(|b| b.is_ascii_hexdigit()))?;
        text.push(char::from_u32(u32::from_str_radix(written, 16).ok()?)?);
        self.at += digits;
        Some(())
    }

    /// Passes over what divides the parts of a flow collection; no line of it stands further out than `least`.
    fn flow_blanks(&mut self, least: usize) -> Option<()> {
        let line = self.line_end();
        self.find_content();
        (self.at <= line || self.peek().is_some() && self.column() >= least).then_some(())
    }

    /// 7.4
    fn flow(&mut self, least: usize) -> Option<()> {
        let (map, close) = match self.peek()? {
            '{' => (true, '}'),
            _ => (false, ']'),
        };
        self.out.push(if map { Part::Map } else { Part::List });
        self.at += 1;
        loop {
            self.flow_blanks(least)?;
            if self.peek()? == close {
                break;
            }
            if map {
                self.flow_entry(least)?;
            } else if self.key(true).is_some() {
                // A single pair in a list.
                return None;
            } else {
                self.flow_value(least)?;
            }
            self.flow_blanks(least)?;
            match self.peek()? {
                ',' => self.at += 1,
                c if c == close => break,
                _ => return None,
            }
        }
        self.at += 1;
        self.out.push(Part::End);
        Some(())
    }

    fn flow_entry(&mut self, least: usize) -> Option<()> {
        match self.key(true) {
            Some((key, value)) => {
                self.out.push(Part::Text(key, true));
                self.at = value;
                self.flow_blanks(least)?;
                match self.peek()? {
                    ',' | '}' => self.out.push(Part::Nothing),
                    _ => self.flow_value(least)?,
                }
            }
            None => {
                let key = match self.peek()? {
                    quote @ ('"' | '\'') => self.quoted(quote, None)?,
                    _ => self.plain(None, true)?,
                };
                self.blanks();
                matches!(self.peek()?, ',' | '}').then_some(())?;
                self.out.push(Part::Text(key, true));
                self.out.push(Part::Nothing);
            }
        }
        Some(())
    }

    fn flow_value(&mut self, least: usize) -> Option<()> {
        match self.peek()? {
            '[' | '{' => self.flow(least),
            quote @ ('"' | '\'') => {
                let text = self.quoted(quote, Some(least))?;
                self.out.push(scalar(&text, false));
                Some(())
            }
            _ => {
                let text = self.plain(Some(least), true)?;
                self.out.push(scalar(&text, true));
                Some(())
            }
        }
    }

    /// 8.1
    fn block_scalar(&mut self, least: usize) -> Option<()> {
        let folded = self.peek()? == '>';
        self.at += 1;
        let chomp = self.peek().filter(|c| matches!(c, '+' | '-'));
        self.at += usize::from(chomp.is_some());
        self.end_line()?;
        self.at += usize::from(self.peek().is_some());
        let mut lines: Vec<&str> = Vec::new();
        let mut column = None;
        while self.peek().is_some() {
            let line = &self.text[self.at..self.line_end()];
            let indent = line.len() - line.trim_start_matches(' ').len();
            let empty = indent == line.len();
            if !empty && indent < column.unwrap_or(least) {
                break;
            }
            // An end without a line's end, and empty lines that stand further in, are refused.
            if self.line_end() == self.text.len() || empty && column.is_none() && indent > least {
                return None;
            }
            if !empty && column.is_none() {
                column = Some(indent);
            }
            lines.push(line.get(column.unwrap_or(indent)..).unwrap_or(""));
            self.at = self.line_end() + 1;
        }
        let whole = lines.iter().rposition(|line| !line.is_empty()).map_or(0, |last| last + 1);
        let after = lines.len() - whole;
        if whole == 0 {
            return None;
        }
        let mut text = match folded {
            true => folded_lines(&lines[..whole]),
            false => lines[..whole].join("\n"),
        };
        match chomp {
            Some('-') => {}
            Some(_) => text.push_str(&"\n".repeat(after + 1)),
            None => text.push('\n'),
        }
        self.out.push(scalar(&text, false));
        // Where the next line begins, as other nodes leave it at the end of theirs.
        self.at -= 1;
        Some(())
    }
}

/// 8.1.3: lines are joined, but for those that stand further in.
fn folded_lines(lines: &[&str]) -> String {
    let mut text = String::new();
    let mut before: Option<&str> = None;
    let mut empty = 0;
    for line in lines {
        if line.is_empty() {
            empty += 1;
            continue;
        }
        match before {
            None => text.push_str(&"\n".repeat(empty)),
            Some(before) if before.starts_with(' ') || line.starts_with(' ') => {
                text.push_str(&"\n".repeat(empty + 1));
            }
            Some(_) if empty == 0 => text.push(' '),
            Some(_) => text.push_str(&"\n".repeat(empty)),
        }
        text.push_str(line);
        before = Some(line);
        empty = 0;
    }
    text
}
