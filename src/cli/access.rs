//! Who may read what a command writes.

use crate::packet::write::Readers;

/// Who may read what a command writes.
#[derive(clap::Args)]
pub(super) struct Access {
    /// Let the owner's group read what is written, for a shared drive; without it the owner alone may
    #[arg(long)]
    group_readable: bool,
}

impl Access {
    /// Returns who may read.
    pub fn readers(&self) -> Readers {
        if self.group_readable { Readers::Group } else { Readers::Owner }
    }
}
