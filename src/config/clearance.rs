//! The settings of the way back: who may clear, by which steps, and the daily check-in.

use std::path::{Path, PathBuf};

use chrono::NaiveTime;
use serde::Deserialize;

use super::{ConfigError, Reader};
use crate::trade::clearance::{Law, LawChanges, Licence, Progression, built_in, progressions};

/// How a program brings athletes back.
#[derive(Debug, Clone, PartialEq)]
pub struct Clearing {
    /// Who may clear, and what has to be on file.
    pub law: Law,
    /// Whether a clearance takes effect only when a second of the medical staff has confirmed it.
    pub two_people: bool,
    /// The ways back that are known.
    pub progressions: Vec<Progression>,
    /// A file with ways of the program's own.
    pub file: Option<PathBuf>,
    /// When those who are held are asked how they are.
    pub check_in_at: NaiveTime,
    /// Where medical staff record it, for texts.
    pub page: Option<url::Url>,
}

impl Clearing {
    /// The progression of a key.
    #[must_use]
    pub fn progression(&self, key: &str) -> Option<&Progression> {
        self.progressions.iter().find(|progression| progression.key == key)
    }

    /// Reads the program's own ways back.
    pub(super) fn load(&mut self, folder: &Path) -> Result<(), ConfigError> {
        let Some(file) = self.file.take().map(|file| folder.join(file)) else { return Ok(()) };
        let path = file.display().to_string();
        let text =
            std::fs::read_to_string(&file).map_err(|source| ConfigError::Unreadable { path: path.clone(), source })?;
        let own =
            progressions(&text).map_err(|what| ConfigError::Value { path, key: "progression".to_owned(), what })?;
        // One of the same key takes the place of what is built in.
        self.progressions.retain(|known| own.iter().all(|own| own.key != known.key));
        self.progressions.extend(own);
        self.file = Some(file);
        Ok(())
    }
}

/// `[programs.KEY.clearance]`.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(super) struct ClearanceTable {
    law: Option<String>,
    may_clear: Option<Vec<String>>,
    written: Option<bool>,
    parent: Option<bool>,
    not_before_hours: Option<i64>,
    two_people: bool,
    progressions: Option<PathBuf>,
    check_in_at: Option<String>,
}

impl Reader<'_> {
    pub(super) fn clearance(&self, key: &str, table: ClearanceTable) -> Result<Clearing, ConfigError> {
        let law = match &table.law {
            None => Law::cautious(),
            Some(name) => Law::built_in().into_iter().find(|law| law.key == *name).ok_or_else(|| {
                let known: Vec<String> = Law::built_in().into_iter().map(|law| law.key).collect();
                let what = format!(
                    "`{name}` is no rule set; known are {}. Take `cautious` and change it by may_clear, written, parent and \
                     not_before_hours to what your state's law says",
                    known.join(", ")
                );
                self.wrong(format!("{key}.law"), what)
            })?,
        };
        let kind = |text: &String| {
            Licence::named(text).ok_or_else(|| {
                let known: Vec<&str> = Licence::ALL.into_iter().map(Licence::name).collect();
                self.wrong(
                    format!("{key}.may_clear"),
                    format!("`{text}` is no kind of licence; known are {}", known.join(", ")),
                )
            })
        };
        let may_clear =
            table.may_clear.map(|kinds| kinds.iter().map(kind).collect::<Result<Vec<_>, _>>()).transpose()?;
        if may_clear.as_ref().is_some_and(Vec::is_empty) {
            return Err(self.wrong(format!("{key}.may_clear"), "nobody could clear an athlete; name at least one"));
        }
        if let Some(hours) = table.not_before_hours.filter(|hours| !(0..=720).contains(hours)) {
            let what = format!("`{hours}` is not a number of hours from 0 to 720");
            return Err(self.wrong(format!("{key}.not_before_hours"), what));
        }
        let changes = LawChanges {
            may_clear,
            written: table.written,
            parent: table.parent,
            not_before_hours: table.not_before_hours,
        };
        let check_in_at = table.check_in_at.as_deref().unwrap_or("08:00");
        let check_in_at = crate::trade::times::parse_clock(check_in_at).ok_or_else(|| {
            self.wrong(format!("{key}.check_in_at"), format!("`{check_in_at}` is not a time such as `08:00`"))
        })?;
        Ok(Clearing {
            law: law.with(&changes),
            two_people: table.two_people,
            progressions: built_in(),
            file: table.progressions,
            check_in_at,
            page: None,
        })
    }
}

#[cfg(test)]
mod tests {
    use crate::config::Config;

    const PROGRAM: &str = "[programs.p]\nname = \"P\"\nzone = \"America/Chicago\"\nnumber = \"+1 312 555 0100\"\n\
        contact = \"Ana\"\ncontact_phone = \"+1 312 555 0101\"\n[programs.p.teams.varsity]\nname = \"Varsity\"\n[programs.p.clearance]\n";

    fn load(clearance: &str, own: &str) -> Result<super::Clearing, String> {
        let folder = tempfile::tempdir().unwrap();
        std::fs::write(folder.path().join("own.toml"), own).unwrap();
        let path = folder.path().join("browline.toml");
        std::fs::write(&path, format!("{PROGRAM}{clearance}")).unwrap();
        let config = Config::load(&path, |_| None).map_err(|error| error.to_string())?;
        Ok(config.programs.values().next().unwrap().clearance.clone())
    }

    const HEAT: &str = "[[progression]]\nkey = \"heat\"\nname = \"After heat\"\n[[progression.step]]\nwhat = \"light\"\nhours = 48\nworse = \"stay\"\n";

    #[test]
    fn a_clinics_own_way_back_comes_from_a_file_beside_the_settings() {
        let settings = load("progressions = \"own.toml\"\n", HEAT).unwrap();
        assert!(settings.progression("heat").is_some() && settings.progression("concussion").is_some());
        let own = HEAT.replace("heat", "concussion");
        let settings = load("progressions = \"own.toml\"\n", &own).unwrap();
        assert_eq!(settings.progression("concussion").unwrap().last(), 1, "one of the same key takes its place");
        let wrong = load("progressions = \"own.toml\"\n", &HEAT.replace("48", "0")).unwrap_err();
        assert!(wrong.contains("own.toml") && wrong.contains("hours = 0"), "{wrong}");
        assert!(load("progressions = \"gone.toml\"\n", "").unwrap_err().contains("gone.toml"));
    }

    #[test]
    fn a_law_is_a_setting_and_what_is_no_law_is_told() {
        assert_eq!(load("", "").unwrap().law.key, "cautious");
        let settings = load("law = \"us-az\"\nparent = false\n", "").unwrap();
        assert!(settings.law.may_clear.len() > 1 && !settings.law.parent);
        assert!(load("law = \"anything\"\n", "").unwrap_err().contains("known are cautious"));
        assert!(load("may_clear = [\"coach\"]\n", "").unwrap_err().contains("no kind of licence"));
        assert!(load("may_clear = []\n", "").unwrap_err().contains("nobody could clear"));
    }
}
