//! The sections of a case whose entries other keys name.
//!
//! Nothing comes in. An item has costs, a cost names a paper, and a paper names items: each refers to a section here and
//! not to the record of its entries, or their files would lead round in a circle.

use crate::record::Section;

macro_rules! sections {
    ($($name:ident $word:literal;)+) => {
        $(
            #[doc = concat!("Entries of `", $word, "`.")]
            pub(super) struct $name;

            impl Section for $name {
                const NAME: &'static str = $word;
            }
        )+
    };
}

sections! {
    Homes "homes";
    Property "property";
    Papers "evidence";
}
