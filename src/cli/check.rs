//! `check`: every finding, nothing written.

use super::streams::print_painted;
use super::{AsText, End, color, days, kit, load, our_fault, print, print_json};
use crate::assemble::{self, Computed, Material, Wanted};
use crate::case::{TaxYear, shown};
use crate::credit;
use crate::finding::{Finding, Severity, Sources};
use crate::folder::papers;
use crate::folder::senders::{self, Senders};
use crate::folder::twins::Twins;
use crate::law::Law;
use crate::name::Edition;
use crate::wording::{count, counted};
use std::collections::HashSet;
use std::num::NonZeroUsize;
use std::path::{Path, PathBuf};
use std::sync::atomic::AtomicBool;

/// Show every finding of one or more cases, and what would keep their packets from being made.
#[derive(clap::Args)]
pub(super) struct Check {
    /// Case files, or folders of them
    #[arg(required = true)]
    cases: Vec<PathBuf>,
    /// The firm's file; without it firm.yaml beside the case, or above it up to the folder that was named
    #[arg(long, value_name = "FILE")]
    firm: Option<PathBuf>,
    /// Check the firm's own letters and layout too: a folder that `kit` made
    #[arg(long, value_name = "DIR")]
    kit: Option<PathBuf>,
    /// Warnings and questions count as errors
    #[arg(long)]
    strict: bool,
    /// In which form
    #[arg(long = "as", value_enum, default_value = "text")]
    form: AsText,
}

/// What all cases share, and what is said of them at the end.
struct Checking<'a> {
    asked: &'a Check,
    kit: kit::Used,
    senders: Senders,
    /// The folders whose firm file was told of.
    told: HashSet<PathBuf>,
    /// The findings, where they are wanted as data.
    data: Vec<serde_json::Value>,
    end: End,
    /// How many cases cannot be used as they are.
    failed: usize,
    /// How many cases came to what.
    counts: Counts,
}

/// What came of the cases: each is counted once, by the gravest thing that was found.
#[derive(Default)]
struct Counts {
    errors: usize,
    questions: usize,
    warnings: usize,
    unread: usize,
    clean: usize,
}

impl Counts {
    fn add(&mut self, findings: &[Finding]) {
        let has = |severity| findings.iter().any(|finding| finding.severity == severity);
        let of = match () {
            () if has(Severity::Error) => &mut self.errors,
            () if has(Severity::Question) => &mut self.questions,
            () if has(Severity::Warning) => &mut self.warnings,
            () => &mut self.clean,
        };
        *of += 1;
    }

    /// `12 cases: 1 with errors, 3 with open questions, 8 clean`.
    fn told(&self, cases: usize) -> String {
        let counts = [
            (self.unread, "cannot be read"),
            (self.errors, "with errors"),
            (self.questions, "with open questions"),
            (self.warnings, "with warnings"),
            (self.clean, "clean"),
        ];
        let parts: Vec<String> =
            counts.iter().filter(|(n, _)| *n > 0).map(|(n, what)| format!("{} {what}", count(*n))).collect();
        format!("{}: {}", counted(cases, "case", "cases"), parts.join(", "))
    }

    fn data(&self, cases: usize) -> serde_json::Value {
        serde_json::json!({
            "cases": cases, "unread": self.unread, "errors": self.errors, "questions": self.questions,
            "warnings": self.warnings, "clean": self.clean,
        })
    }
}

impl Check {
    pub(super) fn run(self) -> End {
        let mut end = End::Done;
        let mut files = Vec::new();
        for given in &self.cases {
            match load::case_files(given) {
                Ok(found) => files.extend(found),
                Err(trouble) => end = end.max(trouble),
            }
        }
        let mut texts = Sources::default();
        let kit = kit::read(self.kit.as_deref(), &mut texts);
        let kit = match kit.or_else(|trouble| {
            end = end.max(trouble);
            // The cases are checked all the same, with the letters that are built in.
            texts = Sources::default();
            kit::read(None, &mut texts)
        }) {
            Ok(kit) => kit,
            Err(trouble) => return trouble,
        };
        let tops: Vec<&Path> = self.cases.iter().map(PathBuf::as_path).filter(|path| path.is_dir()).collect();
        let senders = Senders::new(self.firm.as_deref(), &tops, texts);
        let threads = std::thread::available_parallelism().unwrap_or(NonZeroUsize::MIN);
        let twins = Twins::among(&files, threads, &AtomicBool::new(false));
        let mut checking = Checking {
            asked: &self,
            kit,
            senders,
            told: HashSet::new(),
            data: Vec::new(),
            end,
            failed: 0,
            counts: Counts::default(),
        };
        for (n, path) in files.iter().enumerate() {
            let others: Vec<&Path> = twins.others(n).into_iter().map(|n| files[n].as_path()).collect();
            if let Err(trouble) = checking.case(path, &others) {
                checking.end = checking.end.max(trouble);
                checking.counts.unread += 1;
            }
        }
        checking.close(files.len())
    }
}

impl Checking<'_> {
    /// Checks one case, which shares its reference with others.
    fn case(&mut self, path: &Path, others: &[&Path]) -> Result<(), End> {
        let bytes = load::read(path)?;
        let firm = self.senders.of(path);
        if self.told.insert(self.senders.folder_of(path)) && !firm.findings.is_empty() {
            self.tell(&firm.findings, &firm.sources);
            let end = firm.broken.as_ref().map_or(End::Done, End::of_firm);
            self.end = self.end.max(End::of(&firm.findings, self.asked.strict).max(end));
        }
        let name = path.display().to_string();
        let law = Law::built_in();
        let mut computed = assemble::compute(&name, &bytes, law, firm.sources.clone())
            .map_err(|fault| our_fault(&format!("{name}: {fault}")))?;
        let mut more: Vec<Finding> = shared(&computed, others).into_iter().collect();
        if !computed.has_errors() {
            more.extend(self.refusals(path, &bytes, &firm, &computed));
        }
        computed.outcome.findings.extend(more);
        let outcome = &mut computed.outcome;
        credit::weight::order(&mut outcome.findings, computed.case.as_ref(), &outcome.figures);
        let end = End::of(&computed.outcome.findings, self.asked.strict);
        self.failed += usize::from(end != End::Done);
        self.counts.add(&computed.outcome.findings);
        self.end = self.end.max(end);
        self.tell(&computed.outcome.findings, &computed.sources);
        if self.asked.form == AsText::Text {
            print(&format!("{}: {}\n", shown(path), tally(&computed.outcome.findings)));
        }
        Ok(())
    }

    /// Finds what would keep the packet of a computed case from being made.
    fn refusals(
        &self,
        path: &Path,
        bytes: &[u8],
        firm: &senders::Found,
        computed: &Computed,
    ) -> Vec<Finding> {
        let Some(case) = &computed.case else { return Vec::new() };
        let (papers, bytes_of_papers, mut found) = match papers::look(path, case) {
            Ok((papers, bytes)) => (papers, bytes, Vec::new()),
            Err(complaints) => (Vec::new(), 0, complaints),
        };
        let year = computed.latest_year().unwrap_or(TaxYear(0));
        let wanted = Wanted {
            year,
            dated: days::today(),
            draft: false,
            case_file: path.file_name().map_or_else(String::new, |name| name.to_string_lossy().into_owned()),
            replaces: None,
            name: case.client.reference.value.packet(year, Edition::First),
            also: Vec::new(),
        };
        let sender = firm.sender.as_ref();
        let material = Material {
            letters: &self.kit.letters,
            layout: self.kit.layout.as_ref(),
            kit: &self.kit.files,
            case_bytes: bytes,
            firm: sender.map(|one| (&one.firm, one.bytes.as_slice())),
            logo: sender.and_then(|one| one.logo.as_ref()),
            papers: &papers,
        };
        found.extend(assemble::refusals(computed, Law::built_in(), &wanted, &material, bytes_of_papers));
        found
    }

    fn tell(&mut self, findings: &[Finding], sources: &Sources) {
        for finding in findings {
            match self.asked.form {
                AsText::Text => {
                    print_painted(&format!("{}\n", color::for_output(finding, sources).to_print()));
                }
                AsText::Json => self.data.push(finding.to_json(sources)),
            }
        }
    }

    /// Prints what is data, and says why the command fails where it does.
    fn close(self, cases: usize) -> End {
        match self.asked.form {
            AsText::Json => print_json(
                &serde_json::json!({"format": 1, "findings": self.data, "counts": self.counts.data(cases)}),
            ),
            AsText::Text if cases > 1 || self.asked.cases.iter().any(|given| given.is_dir()) => {
                print(&format!("{}\n", self.counts.told(cases)));
            }
            AsText::Text => {}
        }
        if self.end == End::CaseErrors {
            let strictly = if self.asked.strict { "errors, warnings or questions" } else { "errors" };
            match (self.failed, cases) {
                (0, _) => tell!("error: the firm file or the kit has {strictly}"),
                (_, 1) => tell!("error: the case has {strictly}"),
                (1, of) => tell!("error: 1 of {} cases has {strictly}", count(of)),
                (failed, of) => tell!("error: {} of {} cases have {strictly}", count(failed), count(of)),
            }
        }
        self.end
    }
}

/// Complains, at its reference, of a case that shares it with others.
fn shared(computed: &Computed, others: &[&Path]) -> Option<Finding> {
    let case = computed.case.as_ref().filter(|_| !others.is_empty())?;
    let reference = &case.client.reference;
    let names: Vec<String> = others.iter().map(|other| shown(other)).collect();
    let message = format!("the client reference {} is also that of {}", reference.value, names.join(" and "));
    let help = "give each client a reference of its own, or take the file away that is not meant";
    Some(Finding::error("reference-shared", message).at(reference.span).help(help))
}

/// Counts findings in words: `2 errors, 1 question`.
pub(super) fn tally(findings: &[crate::finding::Finding]) -> String {
    let count = |severity| findings.iter().filter(|finding| finding.severity == severity).count();
    let parts: Vec<String> = [Severity::Error, Severity::Warning, Severity::Question, Severity::Note]
        .into_iter()
        .filter_map(|severity| match count(severity) {
            0 => None,
            n => Some(counted(n, &severity.to_string(), &format!("{severity}s"))),
        })
        .collect();
    if parts.is_empty() { "nothing to complain about".to_string() } else { parts.join(", ") }
}
