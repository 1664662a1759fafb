//! The settings of keeping: for how long each kind of data is kept.

use serde::Deserialize;

use super::{ConfigError, Reader};

/// For how many days each kind of data is kept; none: for ever. The record is always kept. How long medical records of minors
/// have to be kept is for local law to say, so nothing of them is deleted unless it is set.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Keeping {
    /// Texts and e-mails, in and out, and what unclear ones were said to mean.
    pub messages_days: Option<i64>,
    /// Morning checks, and items that are closed.
    pub checks_days: Option<i64>,
    /// Notices to families that wait for no answer.
    pub notices_days: Option<i64>,
    /// Ways back that are over, their clearances, check-ins, and ended holds.
    pub medical_days: Option<i64>,
    /// Sessions and codes that are over.
    pub sessions_days: Option<i64>,
}

impl Default for Keeping {
    /// Common practice, no published source.
    fn default() -> Self {
        Self {
            messages_days: Some(730),
            checks_days: Some(1_095),
            notices_days: Some(1_095),
            medical_days: None,
            sessions_days: Some(30),
        }
    }
}

/// `[programs.KEY.keeping]`.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(super) struct KeepingTable {
    messages_days: Option<i64>,
    checks_days: Option<i64>,
    notices_days: Option<i64>,
    medical_days: Option<i64>,
    sessions_days: Option<i64>,
}

impl Reader<'_> {
    pub(super) fn keeping(&self, key: &str, table: KeepingTable) -> Result<Keeping, ConfigError> {
        let mut settings = Keeping::default();
        for (name, given, days) in [
            ("messages_days", table.messages_days, &mut settings.messages_days),
            ("checks_days", table.checks_days, &mut settings.checks_days),
            ("notices_days", table.notices_days, &mut settings.notices_days),
            ("medical_days", table.medical_days, &mut settings.medical_days),
            ("sessions_days", table.sessions_days, &mut settings.sessions_days),
        ] {
            match given {
                None => {}
                // For ever.
                Some(0) => *days = None,
                Some(given) if (14..=36_500).contains(&given) => *days = Some(given),
                Some(given) => {
                    let what = format!("`{given}` is not a number of days from 14 to 36500; 0 keeps it for ever");
                    return Err(self.wrong(format!("{key}.{name}"), what));
                }
            }
        }
        Ok(settings)
    }
}
