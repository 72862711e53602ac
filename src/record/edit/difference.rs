//! Two texts of one file beside each other: which lines were taken out, which put in.

/// Lines that differ between two texts, with some of those around them.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Difference {
    /// The places that differ, in the order of the file.
    pub places: Vec<Vec<Line>>,
}

/// One line.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Line {
    /// It stays; its number in the new text.
    Kept(usize, String),
    /// It is taken out; its number in the old text.
    Out(usize, String),
    /// It is put in; its number in the new text.
    In(usize, String),
}

impl std::fmt::Display for Difference {
    /// Writes each line with its sign and number; an empty line between the places.
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let number = |line: &Line| match line {
            Line::Kept(number, _) | Line::Out(number, _) | Line::In(number, _) => *number,
        };
        let most = self.places.iter().flatten().map(number).max().unwrap_or(0);
        let width = most.to_string().len();
        for (n, place) in self.places.iter().enumerate() {
            if n > 0 {
                writeln!(f)?;
            }
            for line in place {
                let (sign, text) = match line {
                    Line::Kept(_, text) => (' ', text),
                    Line::Out(_, text) => ('-', text),
                    Line::In(_, text) => ('+', text),
                };
                writeln!(f, "{}", format!("{sign} {:>width$}  {text}", number(line)).trim_end())?;
            }
        }
        Ok(())
    }
}

/// Compares two texts line by line, and shows `around` lines before and behind each place.
///
/// Characters that nobody sees are told by their numbers, so that it can be shown on any terminal.
pub fn difference(old: &str, new: &str, around: usize) -> Difference {
    let (old_lines, new_lines): (Vec<&str>, Vec<&str>) = (lines(old), lines(new));
    let script = script(&old_lines, &new_lines);
    let changed: Vec<usize> = (0..script.len()).filter(|at| !matches!(script[*at], Step::Keep(_))).collect();
    let shown = |text: &str| crate::characters::harmless_line(text.trim_start_matches('\u{feff}'));
    let mut places: Vec<Vec<Line>> = Vec::new();
    let mut end = 0;
    for at in changed {
        let from = at.saturating_sub(around);
        let fresh = places.is_empty() || from > end;
        let from = if fresh { from } else { end };
        let to = (at + around + 1).min(script.len());
        let more = (from..to.max(from)).map(|at| match script[at] {
            Step::Keep(new) => Line::Kept(new + 1, shown(new_lines[new])),
            Step::Out(old) => Line::Out(old + 1, shown(old_lines[old])),
            Step::In(new) => Line::In(new + 1, shown(new_lines[new])),
        });
        match places.last_mut().filter(|_| !fresh) {
            Some(place) => place.extend(more),
            None => places.push(more.collect()),
        }
        end = end.max(to);
    }
    Difference { places }
}

fn lines(text: &str) -> Vec<&str> {
    text.split_terminator('\n').map(|line| line.strip_suffix('\r').unwrap_or(line)).collect()
}

#[derive(Clone, Copy)]
enum Step {
    Keep(usize),
    Out(usize),
    In(usize),
}

/// Finds the fewest lines to take out and put in, by the furthest way for every number of them (Myers, An O(ND)
/// difference algorithm, Algorithmica 1, 1986, section 4).
fn script(old: &[&str], new: &[&str]) -> Vec<Step> {
    let (n, m) = (old.len() as isize, new.len() as isize);
    let most = n + m;
    let at = |k: isize| (k + most + 1) as usize;
    let mut furthest = vec![0isize; 2 * most as usize + 3];
    // What was furthest before each round, only where it could have come to.
    let mut rounds: Vec<Vec<isize>> = Vec::new();
    'rounds: for d in 0..=most {
        rounds.push(furthest[at(-d - 1)..=at(d + 1)].to_vec());
        for k in (-d..=d).step_by(2) {
            let down = k == -d || k != d && furthest[at(k - 1)] < furthest[at(k + 1)];
            let mut x = if down { furthest[at(k + 1)] } else { furthest[at(k - 1)] + 1 };
            while x < n && x - k < m && old[x as usize] == new[(x - k) as usize] {
                x += 1;
            }
            furthest[at(k)] = x;
            if x >= n && x - k >= m {
                break 'rounds;
            }
        }
    }
    let (mut x, mut y) = (n, m);
    let mut steps = Vec::new();
    for (d, before) in rounds.iter().enumerate().rev() {
        let d = d as isize;
        let furthest = |k: isize| before[(k + d + 1) as usize];
        let k = x - y;
        let down = k == -d || k != d && furthest(k - 1) < furthest(k + 1);
        let from = if down { k + 1 } else { k - 1 };
        let (to_x, to_y) = match d {
            0 => (0, 0),
            _ => (furthest(from), furthest(from) - from),
        };
        while x > to_x && y > to_y {
            (x, y) = (x - 1, y - 1);
            steps.push(Step::Keep(y as usize));
        }
        if d > 0 {
            match down {
                true => steps.push(Step::In(to_y as usize)),
                false => steps.push(Step::Out(to_x as usize)),
            }
            (x, y) = (to_x, to_y);
        }
    }
    steps.reverse();
    steps
}
