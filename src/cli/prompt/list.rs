//! A list from which one line is chosen, and what is typed at it.
//!
//! Comes in: the choices and what was typed. Goes out: the choice that is meant. Knows no screen.

/// The choices, and the one that Enter takes.
#[derive(Clone, Debug)]
pub(super) struct List {
    /// What a person sees, in order.
    pub labels: Vec<String>,
    /// The number, from zero, of the choice that Enter takes.
    pub at: usize,
}

impl List {
    /// Goes to another line, and from either end to the other.
    pub fn go(&mut self, by: isize) {
        let count = self.labels.len().max(1);
        let by = by.rem_euclid(count as isize) as usize;
        self.at = (self.at + by) % count;
    }

    /// Goes to the choice that what was typed means: by its number, or by the beginning of its label, or by words in it.
    /// False where it means none.
    pub fn go_to(&mut self, typed: &str) -> bool {
        let wanted = typed.trim().to_lowercase();
        let digits = !wanted.is_empty() && wanted.bytes().all(|byte| byte.is_ascii_digit());
        let with =
            |fits: &dyn Fn(&str) -> bool| self.labels.iter().position(|label| fits(&label.to_lowercase()));
        let numbered = || {
            let n = wanted.parse::<usize>().ok()?.checked_sub(1)?;
            (n < self.labels.len()).then_some(n)
        };
        let found = match digits {
            true => numbered(),
            false if wanted.is_empty() => None,
            false => with(&|label| label == wanted)
                .or_else(|| with(&|label| label.starts_with(&wanted)))
                .or_else(|| with(&|label| label.contains(&wanted))),
        };
        self.at = found.unwrap_or(self.at);
        found.is_some()
    }

    /// Returns the choices to show where there is room for some rows only: from, and up to but without. `height` says how
    /// many rows a choice takes.
    pub fn page(&self, room: usize, height: impl Fn(&str) -> usize) -> (usize, usize) {
        let rows = |from: usize, to: usize| -> usize {
            self.labels[from..to].iter().map(|label| height(label)).sum()
        };
        let (mut from, mut to) = (self.at, self.labels.len().min(self.at + 1));
        while from > 0 && rows(from - 1, to) <= room {
            from -= 1;
        }
        while to < self.labels.len() && rows(from, to + 1) <= room {
            to += 1;
        }
        (from, to)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn list(labels: &[&str]) -> List {
        List { labels: labels.iter().map(ToString::to_string).collect(), at: 0 }
    }

    #[test]
    fn digits_and_letters_choose() {
        let labels: Vec<String> = (1..=12).map(|n| format!("kind {n}")).collect();
        let mut list = list(&labels.iter().map(String::as_str).collect::<Vec<_>>());
        for (typed, at) in [("1", 0), ("12", 11), ("3", 2), ("kind 11", 10), ("d 7", 6)] {
            assert!(list.go_to(typed), "{typed}");
            assert_eq!(list.at, at, "{typed}");
        }
        for none in ["0", "13", "x", "", "99999999999999999999"] {
            assert!(!list.go_to(none), "{none}");
            assert_eq!(list.at, 6, "{none}");
        }
    }

    #[test]
    fn arrows_go_around() {
        let mut list = list(&["a", "b", "c"]);
        list.go(-1);
        assert_eq!(list.at, 2);
        list.go(1);
        assert_eq!(list.at, 0);
        list.go(-4);
        assert_eq!(list.at, 2);
    }

    #[test]
    fn what_is_chosen_is_on_the_page() {
        let labels: Vec<String> = (0..20).map(|n| n.to_string()).collect();
        for room in 1..25 {
            for at in 0..20 {
                let (from, to) = List { labels: labels.clone(), at }.page(room, |_| 1);
                assert!(from <= at && at < to, "{room} {at}: {from} {to}");
                assert_eq!(to - from, room.min(20), "{room} {at}");
            }
        }
        // A choice of two rows takes the room of two others, and is shown even where there is none.
        let long = |label: &str| if label == "5" { 2 } else { 1 };
        assert_eq!(List { labels: labels.clone(), at: 5 }.page(4, long), (3, 6));
        assert_eq!(List { labels, at: 5 }.page(1, long), (5, 6));
    }
}
