//! A packet that replaces another: which may be replaced, and what the correction says of it.

use super::{Shelf, Wish, on_one_line};
use crate::case::TaxYear;
use crate::case::single::{self, Refusal};
use crate::name::Edition;
use crate::packet::Replaced;
use crate::packet::bag::{self, Damage};
use serde_json::Value;
use std::fmt;
use std::path::{Path, PathBuf};

/// What a correction is to replace, as it was asked for.
#[derive(Clone, Copy, Debug)]
pub struct Correction<'a> {
    /// The name of the packet.
    pub of: &'a str,
    /// Why it is replaced.
    pub because: &'a str,
}

impl Correction<'_> {
    /// Says whether a packet's request is that of this correction.
    pub(super) fn made(self, stored: &Value) -> bool {
        let replaces = &stored["replaces"];
        replaces["packet"] == self.of && replaces["because"] == on_one_line(self.because).as_str()
    }
}

/// Why there can be no correction.
#[derive(Debug)]
pub enum NoCorrection {
    /// No packet of the name stands in the folder.
    NoPacket { old: String, folder: PathBuf },
    /// It is a packet of another client or year.
    Foreign { old: String, year: TaxYear },
    /// It is a draft.
    Draft { old: String },
    /// Another packet replaces it already.
    Replaced { old: String, by: String },
    /// No reason is given.
    NoReason,
    /// The reason cannot be printed or sealed.
    BadReason(Refusal),
    /// It is not as it was sealed.
    Damaged { old: String, place: PathBuf, damage: Vec<Damage> },
}

impl fmt::Display for NoCorrection {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            NoCorrection::NoPacket { old, folder } => {
                write!(f, "there is no packet `{old}` in {}", folder.display())
            }
            NoCorrection::Foreign { old, year } => {
                write!(f, "`{old}` is not a packet of this client and {year}")
            }
            NoCorrection::Draft { old } => write!(f, "`{old}` is a draft"),
            NoCorrection::Replaced { old, by } => write!(f, "`{old}` is replaced by `{by}` already"),
            NoCorrection::NoReason => f.write_str("--because is empty"),
            NoCorrection::BadReason(refusal) => write!(f, "--because: {}", refusal.message),
            NoCorrection::Damaged { old, .. } => {
                write!(f, "`{old}` is not as it was sealed, so a correction cannot name it")
            }
        }
    }
}

impl std::error::Error for NoCorrection {}

impl NoCorrection {
    /// Returns what to do.
    pub fn help(&self) -> String {
        match self {
            NoCorrection::NoPacket { .. } | NoCorrection::Foreign { .. } => {
                "--replaces takes the name of a packet that stands in the folder of --out".to_string()
            }
            NoCorrection::Draft { .. } => {
                "a draft is replaced by the next one; make the packet without --replaces".to_string()
            }
            NoCorrection::Replaced { by, .. } => format!("replace `{by}`, or the latest correction after it"),
            NoCorrection::NoReason => "say why the packet is replaced".to_string(),
            NoCorrection::BadReason(refusal) => refusal.help.clone(),
            NoCorrection::Damaged { place, .. } => {
                format!("bring it back from a backup and see `gablework verify {}`", place.display())
            }
        }
    }
}

impl Shelf {
    /// Makes sure that the packet to be replaced stands as it was sealed, is of the same client and year, and is not
    /// replaced already; and returns what the correction says of it.
    pub fn replaced(&self, wish: Wish<'_>, correction: Correction<'_>) -> Result<Replaced, NoCorrection> {
        let old = correction.of.to_string();
        // The name of one folder, so that nobody's packet elsewhere is read.
        let plain = Path::new(&old).components().count() == 1 && !old.contains(['/', '\\']);
        let Some(stored) = Some(&old).filter(|_| plain).and_then(|old| self.request(old)) else {
            return Err(NoCorrection::NoPacket { old, folder: self.folder.clone() });
        };
        if stored["reference"] != wish.reference.as_str() || stored["year"] != wish.year.0 {
            return Err(NoCorrection::Foreign { old, year: wish.year });
        }
        if stored["draft"] == true {
            return Err(NoCorrection::Draft { old });
        }
        let names = (2..).map(|n| wish.reference.packet(wish.year, Edition::Correction(n)).to_string());
        let mut others = names.map_while(|name| self.request(&name).map(|stored| (name, stored)));
        if let Some((by, _)) = others.find(|(_, stored)| stored["replaces"]["packet"] == old.as_str()) {
            return Err(NoCorrection::Replaced { old, by });
        }
        let because = on_one_line(correction.because);
        if because.is_empty() {
            return Err(NoCorrection::NoReason);
        }
        single::read(single::Form::Line, &because).map_err(NoCorrection::BadReason)?;
        let place = self.place(&old);
        let checked = bag::check(&place);
        let Some(digest) = checked.digest.clone().filter(|_| checked.is_intact()) else {
            return Err(NoCorrection::Damaged { old, place, damage: checked.damage });
        };
        let dated = stored["dated"].as_str().and_then(|day| day.parse().ok());
        Ok(Replaced { packet: old, digest, dated, because })
    }
}
