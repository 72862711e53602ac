//! What the reader must know of one kind of file: its name in sentences, its limits, its sections, and the mistakes
//! that people make in it.
//!
//! Nothing comes in. Goes out: [`FileKind`], of which each module that reads files declares one. Knows no kind of file.

use super::guess::{near, suggest};
use super::node::{Entry, Node};
use super::rule::Block;
use crate::finding::{Choices, Finding, Span};

/// One kind of file that people write.
pub struct FileKind {
    /// What one is called, with its article: `a case`.
    pub a: &'static str,
    /// The one that is being read: `the case`.
    pub the: &'static str,
    /// How much one may hold.
    pub limits: Limits,
    /// What is said where one passes a limit, or is another file altogether.
    pub advice: Advice,
    /// Every group of keys, to say where a key belongs.
    pub blocks: &'static [&'static Block],
    /// The sections to whose entries other places refer by name.
    pub sections: &'static [&'static str],
    /// Those of them that no result depends on: a name that leads to nothing there is kept apart from the rest.
    pub asides: &'static [&'static str],
    /// What is known of mistakes in it.
    pub habits: &'static dyn Habits,
}

impl FileKind {
    /// A data file of the program, or a firm's own copy of one; its limits are far above what any of ours has.
    pub const fn data(a: &'static str, the: &'static str, blocks: &'static [&'static Block]) -> FileKind {
        FileKind {
            a,
            the,
            limits: Limits { bytes: 1_000_000, depth: 12, nodes: 60_000, text: 4_000 },
            advice: Advice {
                usual: "the longest of ours has some fifty thousand",
                instead: "name a text file",
                holds: "put what is more into another file",
                second: ("a second document begins here", "delete the line `---`"),
                levels: "seven",
                long_text: "shorten it",
                long_line: "shorten it",
            },
            blocks,
            sections: &[],
            asides: &[],
            habits: &Misspelled,
        }
    }
}

/// How much a file may hold. Each limit keeps the work on a file bounded, and is far above an honest one.
pub struct Limits {
    /// Bytes.
    pub bytes: usize,
    /// How deep lists and maps may be in each other.
    pub depth: usize,
    /// Keys, values and entries.
    pub nodes: usize,
    /// Characters of one text.
    pub text: usize,
}

/// Sentences that only the kind of file can give.
pub struct Advice {
    /// What one usually has, where this one is too large: `a case of one household has a few thousand`.
    pub usual: &'static str,
    /// Which file to name instead of one that is no text.
    pub instead: &'static str,
    /// What one file holds: `one file holds the case of one household`.
    pub holds: &'static str,
    /// The same where a second document begins, and what to do with that.
    pub second: (&'static str, &'static str),
    /// How many levels of lists and keys one needs, in words.
    pub levels: &'static str,
    /// Where a very long text may go.
    pub long_text: &'static str,
    /// Where the rest of a text on one line may go.
    pub long_line: &'static str,
}

/// What is known of the mistakes that people make in one kind of file. Every answer may be that nothing is known.
pub trait Habits: Sync {
    /// Completes the complaint about a text that is none of the words of its key with what to write instead.
    fn instead(&self, of: Wrong<'_>, finding: Finding) -> Finding {
        finding.help(suggest(of.written, of.known))
    }

    /// Names the list of words of a key, where the choice decides something and no word must be proposed.
    fn deciding(&self, _key: &str, _known: &[&'static str]) -> Option<&'static str> {
        None
    }

    /// Collects words to choose from, each with its list, with what is known of the place they are for.
    fn choices(
        &self,
        _root: &Node,
        _at: Option<Span>,
        of: Vec<&'static str>,
        words: Vec<(&'static str, &'static str)>,
    ) -> Choices {
        Choices { of, words, ..Choices::default() }
    }

    /// Finds the keys of a block that a text may have been meant as.
    fn keys_meant(&self, _block: &'static Block, written: &str, known: &[&'static str]) -> Vec<&'static str> {
        near(written, known)
    }

    /// Explains a key that a block does not have and that people reach for.
    fn unknown_key(&self, _key: &str, _block: &'static Block) -> Option<Finding> {
        None
    }

    /// Explains, once for all its keys, a group that belongs elsewhere.
    fn misplaced(&self, _entries: &[Entry], _block: &'static Block) -> Option<Finding> {
        None
    }

    /// Says whether a key was written in the place of another one, which is then not missing as well.
    fn stands_for(&self, _written: &str, _key: &str, _block: &'static Block) -> bool {
        false
    }

    /// Says what to write instead of an amount below zero, where the number alone would be wrong.
    fn below_zero(&self, _key: &str) -> Option<&'static str> {
        None
    }

    /// Names what a group of keys is, where its amount lowers something and people put a minus before it.
    fn lowers(&self, _entries: &[Entry], _block: &'static Block) -> Option<&'static str> {
        None
    }
}

/// A text that is none of the words of its key.
pub struct Wrong<'w> {
    /// The whole file.
    pub root: &'w Node,
    /// The key.
    pub key: &'w str,
    /// What was written.
    pub written: &'w str,
    /// The words that the key takes.
    pub known: &'w [&'static str],
}

/// A kind of file of whose mistakes nothing is known.
pub struct NoHabits;

impl Habits for NoHabits {}

/// A kind of file of whose mistakes nothing is known but that keys are misspelled: the one that was meant is not missing
/// as well.
pub struct Misspelled;

impl Habits for Misspelled {
    fn stands_for(&self, written: &str, key: &str, _block: &'static Block) -> bool {
        !near(written, &[key]).is_empty()
    }
}
