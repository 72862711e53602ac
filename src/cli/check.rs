//! `check`: every finding, nothing written.

use super::{AsText, End, color, kit, load, print};
use crate::finding::{Severity, Sources};
use std::path::PathBuf;

/// Show every finding of one or more cases.
#[derive(clap::Args)]
pub(super) struct Check {
    /// Case files, or folders of them
    #[arg(required = true)]
    cases: Vec<PathBuf>,
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

impl Check {
    pub(super) fn run(self) -> End {
        let mut end = End::Done;
        if let Some(folder) = &self.kit
            && let Err(trouble) = kit::read(Some(folder), &mut Sources::default())
        {
            end = trouble;
        }
        let mut data = Vec::new();
        for given in &self.cases {
            let files = match load::case_files(given) {
                Ok(files) => files,
                Err(trouble) => {
                    end = end.max(trouble);
                    continue;
                }
            };
            for path in files {
                let loaded = match load::load(&path) {
                    Ok(loaded) => loaded,
                    Err(trouble) => {
                        end = end.max(trouble);
                        continue;
                    }
                };
                let computed = &loaded.computed;
                end = end.max(End::of(&computed.findings, self.strict));
                match self.form {
                    AsText::Text => {
                        for finding in &computed.findings {
                            print(&format!("{}\n", color::for_output(finding, &computed.sources)));
                        }
                        print(&format!("{}: {}\n", path.display(), tally(&computed.findings)));
                    }
                    AsText::Json => {
                        data.extend(
                            computed.findings.iter().map(|finding| finding.to_json(&computed.sources)),
                        );
                    }
                }
            }
        }
        if self.form == AsText::Json {
            let all = serde_json::json!({"format": 1, "findings": data});
            print(&format!("{all:#}\n"));
        }
        end
    }
}

/// Counts findings in words: `2 errors, 1 question`.
pub(super) fn tally(findings: &[crate::finding::Finding]) -> String {
    let count = |severity| findings.iter().filter(|finding| finding.severity == severity).count();
    let parts: Vec<String> = [Severity::Error, Severity::Warning, Severity::Question, Severity::Note]
        .into_iter()
        .filter_map(|severity| match count(severity) {
            0 => None,
            1 => Some(format!("1 {severity}")),
            n => Some(format!("{n} {severity}s")),
        })
        .collect();
    if parts.is_empty() { "nothing to complain about".to_string() } else { parts.join(", ") }
}
