//! The names that letters may use, each declared once: its type, what it means, and the value that goes by it.
//!
//! From a declaration come the structure that values are put into, the table that a letter's text is checked against,
//! and the reference for whoever writes letters. Which names there are is a contract (`kit: 1`).

use serde::Serialize;

/// One name of the contract.
#[derive(Debug, PartialEq)]
pub struct Name {
    /// The name.
    pub name: &'static str,
    /// What it is the name of.
    pub takes: Takes,
    /// What it means.
    pub means: &'static str,
}

/// What a name is the name of.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Takes {
    /// Words to print; empty where there are none. `#if` asks whether there are any.
    Text,
    /// Yes or no, for `#if` and `#unless`.
    Yes,
    /// A list of words, for `#each` and `and`; within `#each` one of them is `this`.
    Texts,
    /// Names below it, written with a point.
    Group(&'static [Name]),
    /// A list of entries, each with these names, for `#each`.
    List(&'static [Name]),
}

/// A type that a name can have.
pub(super) trait Told {
    /// What a name of this type takes.
    const TAKES: Takes;
}

/// A type that the entries of a list can have: words, or names of their own. No letter goes through a list of answers.
pub(super) trait Entry {
    /// What a name takes whose value is a list of this type.
    const LISTED: Takes;
}

impl Told for String {
    const TAKES: Takes = Takes::Text;
}

impl Entry for String {
    const LISTED: Takes = Takes::Texts;
}

impl Told for bool {
    const TAKES: Takes = Takes::Yes;
}

impl<T: Entry> Told for Vec<T> {
    const TAKES: Takes = T::LISTED;
}

/// Declares names that belong together, each with its type and what it means.
macro_rules! told {
    (
        #[doc = $about:literal]
        pub struct $group:ident { $( $name:ident: $takes:ty = $means:literal, )* }
    ) => {
        #[doc = $about]
        #[derive(Debug, Default, Serialize)]
        pub struct $group {
            $( #[doc = $means] pub $name: $takes, )*
        }

        impl $group {
            /// The names, as letters write them.
            pub const NAMES: &'static [Name] = &[
                $( Name {
                    name: stringify!($name),
                    takes: <$takes as Told>::TAKES,
                    means: $means,
                }, )*
            ];
        }

        impl Told for $group {
            const TAKES: Takes = Takes::Group(Self::NAMES);
        }

        impl Entry for $group {
            const LISTED: Takes = Takes::List(Self::NAMES);
        }
    };
}

/// The whole contract, besides the facts and the amounts.
pub const NAMES: &[Name] = Contract::NAMES;

told! {
    /// What a letter may say, besides the facts ([`FACT_NAMES`](crate::credit::facts::FACT_NAMES)) and the amounts ([`AMOUNT_NAMES`](crate::credit::facts::AMOUNT_NAMES)).
    pub struct Contract {
        client: Client = "whom the letter is for",
        year: String = "the tax year",
        next_year: String = "the tax year after it",
        year_before: String = "the tax year before it",
        credit: CreditNames = "the names of the two credits in the year",
        official: Official = "where amounts stand on official forms; empty where they stand nowhere",
        items: Vec<Item> = "the property whose credit falls in the year, also where it does not qualify",
        some_count: bool = "at least one of `items` qualifies",
        other_years: Vec<OtherYear> = "property that people may look for in another year, told in the letters of both years",
        limits: Vec<Limit> = "where a yearly or lifetime limit of the law made a credit of the year smaller",
        chain: Vec<Origin> = "the clean energy credit by the year in which it was earned",
        several_origins: bool = "`chain` has two entries or more",
        history: Vec<PastYear> = "the clean energy credit year by year, up to the year of the letter",
        several_years: bool = "`history` has two entries or more",
        entering: Entering = "the clean energy credit that enters the year",
        outlook: Outlook = "what years to come would use of the credit, if their tax is as planned or stays the same: arithmetic, no forecast",
        as_filed: Vec<Filed> = "the amounts that the filed return shows, beside what is computed",
        changed_years: Vec<ChangedYear> = "the filed returns that change, each with what its changes come to together, the years after the letter's included; of those amended since only that of the letter",
        several_changed_years: bool = "`changed_years` has two entries or more",
        year_is_told: bool = "`changed_years` has the year of the letter",
        papers: Vec<ItemPapers> = "what to keep, by item, for property of the year and before",
        missing_items: Vec<String> = "the items that lack a paper, in plain words, with the tax year where it differs",
        several_missing: bool = "`missing_items` has two entries or more",
        missing_papers: Vec<MissingPaper> = "the papers that a rule asks for and that are not on file, each once",
        useful_papers: Vec<MissingPaper> = "other papers of the same items that are good to have and not on file; none where the firm leaves them out",
        common_papers: Vec<String> = "papers that are asked for every item",
        some_on_file: bool = "the firm has at least one of the papers on file",
        keep_returns: String = "until when the returns with Form 5695 are to be kept, in words",
        due: String = "the day the year's return is due, an extension included",
        next_due: String = "the day the next year's return is due",
        firm: Firm = "who sends the letter; empty words without a firm file, but for the signatory",
        dated: String = "the date of the letter",
        law_as_of: String = "the day up to which the program's law of the year was read",
    }
}

told! {
    /// Whom a letter is for.
    pub struct Client {
        names: Vec<String> = "the people of the return, without anyone who has died",
        names_joined: String = "those names in one line",
        deceased: Vec<String> = "people of the return who have died",
        salutation: String = "the salutation, without its colon",
        reference: String = "the client's reference",
    }
}

told! {
    /// The names of the two credits in a year.
    pub struct CreditNames {
        improvement: String = "the name of the section 25C credit in the year",
        clean: String = "the name of the section 25D credit in the year",
        improvement_called: String = "the section 25C credit as papers of the year call it for short",
        clean_called: String = "the section 25D credit as papers of the year call it for short",
    }
}

told! {
    /// Where amounts are on official forms; empty where they are on none.
    pub struct Official {
        improvement_allowed: String = "home improvement credit allowed",
        improvement_before_limit: String = "home improvement credit before the tax limit",
        clean_before_limit: String = "clean energy credit before the tax limit",
        clean_allowed: String = "clean energy credit allowed",
        carried_in: String = "clean energy credit carried in",
        carried_out: String = "clean energy credit carried forward",
        next_carried_in: String = "clean energy credit carried in, on the next year's form",
        return_improvement: String = "where the home improvement credit goes on the return",
        return_clean: String = "where the clean energy credit goes on the return",
        tax: String = "tax before credits",
    }
}

told! {
    /// An item of property.
    pub struct Item {
        name: String = "what it is, in plain words",
        kind: String = "its kind as the law names it",
        home: String = "the address of the home",
        completed: String = "the day that decides its tax year: work complete, home first used, or audit paid",
        timing: String = "that day in words with what happened on it: finished, in use from, or paid",
        paid: String = "paid for it in all",
        qualified: String = "the cost that qualifies",
        whole: bool = "all that was paid for it qualifies",
        counts: bool = "it qualifies",
        ended: bool = "it does not, because the work was completed after the credit ended",
        because: String = "why it does not qualify, as a sentence",
        credit_name: String = "the credit it falls under; empty where the year has none for it",
        improvement: bool = "it falls under the home improvement credit",
        left_out: Vec<LeftOut> = "costs of a qualifying item that do not count",
        incentives: Vec<Incentive> = "the incentives that came with it",
    }
}

told! {
    /// Property that people may look for in another year.
    pub struct OtherYear {
        name: String = "what it is, in plain words",
        timing: String = "the day that decides its year, with what happened on it; empty where it is not complete",
        belongs_to: String = "the year its credit is in; empty where it is not complete",
        although: String = "what happened in the other year, such as: you paid in 2024",
    }
}

told! {
    /// A cost that does not count, or counts in part.
    pub struct LeftOut {
        what: String = "what the cost was for",
        amount: String = "how much of it does not count",
        because: String = "why, as a sentence",
    }
}

told! {
    /// An incentive that came with an item.
    pub struct Incentive {
        from: String = "who pays it",
        kind: String = "what it is by its character",
        amount: String = "the amount",
        reduces: bool = "it comes off the cost",
        because: String = "why it does or does not, as a sentence",
    }
}

told! {
    /// Where a limit of the law made a credit smaller.
    pub struct Limit {
        what: String = "what the limit is for",
        figured: String = "the credit before the limit",
        limit: String = "the limit, or this return's share of it",
        law_limit: String = "the law's whole limit, where `limit` is a share of it; empty otherwise",
    }
}

told! {
    /// What is left of one year's credit.
    pub struct Origin {
        origin: String = "the year in which it was earned",
        brought_in: bool = "it is a balance brought in, whose own years are not in the case",
        earned: String = "the credit earned in that year, or the balance brought in",
        available: String = "available in the year of the letter",
        used: String = "used in the year of the letter",
        used_so_far: String = "used up to and in the year of the letter",
        left: String = "left for the next year",
    }
}

told! {
    /// What one year did with the clean energy credit.
    pub struct PastYear {
        year: String = "the tax year",
        earned: String = "earned on that year's property; empty where nothing was",
        carried_in: String = "carried in; empty where nothing was",
        used: String = "used in that year; empty where nothing was",
        left: String = "carried forward out of it; empty where nothing was",
        otherwise: bool = "the return has been filed, and shows another amount than is computed",
    }
}

told! {
    /// The clean energy credit that enters a year.
    pub struct Entering {
        amount: String = "how much enters the year; empty where nothing does",
        origins: Vec<OriginLeft> = "the years that earned it, oldest first",
        several: bool = "`origins` has two entries or more",
        expected: bool = "the return of the year before is projected or a draft",
        shown_on: String = "where it stands on the form of the year before; empty where that is not known",
        filed: String = "what the return of the year before carries forward as filed, where that is another amount; empty otherwise",
        unsaid: bool = "the return of the year before has been filed, and the case does not say what it shows of a credit",
    }
}

told! {
    /// What enters a year from one that earned it.
    pub struct OriginLeft {
        origin: String = "the year in which it was earned",
        brought_in: bool = "it is a balance brought in, whose own years are not in the case",
        left: String = "how much of it is left",
    }
}

told! {
    /// What years to come would use.
    pub struct Outlook {
        some: bool = "there is an outlook, and it starts where the letter does",
        from: String = "the year of the last return",
        planned: bool = "the tax of at least one of the years to come is the one planned in the case",
        first: String = "the first of the years to come",
        tax: String = "the tax before credits assumed for it",
        credits_before: String = "the other credits assumed to come first in that year; empty where there are none",
        assumed: Vec<Assumed> = "what is assumed of the tax, an entry for each run of years it is the same in",
        years: Vec<YearToCome> = "the years to come, up to five of them; a projected return of the letter's year is the first",
        goes_on: bool = "there are more of them than `years` holds",
        used_up: String = "the year whose return would use the last of it; empty where none would",
        never: bool = "no tax would be left for it, in any year",
        beyond: bool = "something would still be left after the last year looked at",
        last: String = "the last year looked at",
        left: String = "what would be left after it; empty where nothing would",
        more_tax: String = "how much more tax would use all of it in the year `more_in`; empty where that year is over on the date of the letter",
        more_in: String = "the first year that is not over in which more tax would do so",
        more_income: String = "the income that makes that much tax at the federal rate of the case; empty without a rate",
    }
}

told! {
    /// What is assumed of a run of years.
    pub struct Assumed {
        when: String = "the years, as words that begin a line",
        tax: String = "the tax before credits assumed for each of them",
        planned: bool = "it is the one planned in the case, not that of the last return",
        from: String = "the year of the last return",
        expected: bool = "that return has not been filed",
        credits_before: String = "the other credits assumed to come first; empty where there are none",
    }
}

told! {
    /// What one year to come would use.
    pub struct YearToCome {
        year: String = "the tax year",
        tax: String = "the tax before credits assumed",
        used: String = "what would be used; empty where nothing would",
        left: String = "what would be left for the year after; empty where nothing would",
    }
}

told! {
    /// An amount as filed beside what is computed.
    pub struct Filed {
        what: String = "what the amount is",
        official: String = "where it stands on the official form; empty where it stands nowhere",
        filed: String = "as filed",
        correct: String = "as computed",
        change: String = "computed less filed",
    }
}

told! {
    /// A filed return that changes.
    pub struct ChangedYear {
        year: String = "the tax year",
        next_year: String = "the tax year after it",
        rows: Vec<Filed> = "the amounts that its filed return shows, beside what is computed",
        less_tax: String = "so much less tax than the return shows, all changes together; empty where it is not less",
        more_tax: String = "so much more tax likewise",
        same_tax: bool = "the tax stays the same",
        carries_otherwise: bool = "another credit is carried forward than the return shows",
        carried_filed: String = "the credit carried forward as filed",
        carried_correct: String = "the credit carried forward as computed",
        open: bool = "there is less tax, and on the date of the letter a refund can be claimed",
        at_least: bool = "the case has no day of filing, so the time may end later than `closes`",
        over: bool = "there is another tax, and the time to claim a refund has ended",
        unknown: bool = "there is less tax, and whether the time has ended is not known",
        closes: String = "the last day for an amended return",
        by_payment: bool = "that day counts from the last payment of tax, not from filing",
        withheld_until: String = "the last day on which a claim reaches tax that was withheld; empty where that is the same day",
        withheld_is_past: bool = "that day has passed",
    }
}

told! {
    /// The papers of an item.
    pub struct ItemPapers {
        item: String = "the item, in plain words",
        year: String = "its tax year",
        on_file: Vec<String> = "papers the firm has on file",
        to_keep: Vec<String> = "papers the client keeps besides `common_papers`",
        missing: Vec<String> = "papers that should be on file and are not, `common_papers` included",
        list: Vec<Paper> = "all papers",
        keep_until: String = "until when, in words",
        reason: String = "why until then, as a sentence",
    }
}

told! {
    /// A paper that is not on file.
    pub struct MissingPaper {
        what: String = "the paper",
        only_for: Vec<String> = "the items it is missing for; empty where it is all of them, or most",
        all_but: Vec<String> = "where it is missing for most items: the others",
    }
}

told! {
    /// A paper of an item.
    pub struct Paper {
        what: String = "the paper",
        on_file: bool = "the firm has it on file",
        with_home: bool = "it shows what the home cost, so it is kept as long as the home is owned, and longer",
    }
}

told! {
    /// Who sends a letter.
    pub struct Firm {
        name: String = "the firm's name",
        address: Vec<String> = "the lines of its address",
        phone: String = "its telephone number",
        email: String = "its e-mail address",
        signatory: String = "who signs; without a firm file whoever prepared the case",
        title: String = "the signatory's title",
    }
}
