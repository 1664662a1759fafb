//! The settings of drills and coverage.

use serde::Deserialize;

use super::{ConfigError, Reader};
use crate::trade::drill::{Currency, Position, Skill};
use crate::trade::phone::Phone;
use crate::trade::times::Minutes;

/// How a program rehearses.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Drills {
    /// How long a drill counts.
    pub currency: Currency,
    /// Positions of the response that have to be filled.
    pub positions: Vec<Position>,
    /// How long before a game the medical time-out goes out.
    pub time_out_before: Minutes,
    /// Numbers of the visitors' medical staff, or others, who get the time-out too.
    pub time_out_also: Vec<Phone>,
}

impl Default for Drills {
    fn default() -> Self {
        Self {
            currency: Currency::default(),
            positions: Position::DEFAULT.to_vec(),
            time_out_before: Minutes(120),
            time_out_also: Vec::new(),
        }
    }
}

/// `[programs.KEY.drills]`.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(super) struct DrillsTable {
    current_days: Option<i64>,
    skill_days: std::collections::BTreeMap<String, i64>,
    positions: Option<Vec<String>>,
    time_out_before_minutes: Option<Minutes>,
    time_out_also: Vec<String>,
}

impl Reader<'_> {
    pub(super) fn drills(&self, key: &str, table: DrillsTable) -> Result<Drills, ConfigError> {
        let days = |name: String, days: i64| match days {
            1..=1_500 => Ok(days),
            _ => Err(self.wrong(name, format!("`{days}` is not a number of days from 1 to 1500"))),
        };
        let mut settings = Drills::default();
        if let Some(current) = table.current_days {
            settings.currency.days = days(format!("{key}.current_days"), current)?;
        }
        for (name, counts) in table.skill_days {
            let place = format!("{key}.skill_days.{name}");
            let skill = Skill::ALL.into_iter().find(|skill| skill.name() == name).ok_or_else(|| {
                let names: Vec<&str> = Skill::ALL.iter().map(|skill| skill.name()).collect();
                self.wrong(place.clone(), format!("no such skill; there is: {}", names.join(", ")))
            })?;
            settings.currency.by_skill.insert(skill, days(place, counts)?);
        }
        if let Some(names) = table.positions {
            let position = |name: &String| {
                Position::from_name(name).ok_or_else(|| {
                    let names: Vec<&str> = Position::ALL.iter().map(|position| position.name()).collect();
                    self.wrong(
                        format!("{key}.positions"),
                        format!("no position `{name}`; there is: {}", names.join(", ")),
                    )
                })
            };
            settings.positions = names.iter().map(position).collect::<Result<_, _>>()?;
            settings.positions.sort();
            settings.positions.dedup();
        }
        if let Some(before) = table.time_out_before_minutes {
            settings.time_out_before = before;
        }
        let phone = |text: &String| self.phone(format!("{key}.time_out_also"), text);
        settings.time_out_also = table.time_out_also.iter().map(phone).collect::<Result<_, _>>()?;
        Ok(settings)
    }
}
