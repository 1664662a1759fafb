//! The settings of kits: when they are counted, and how what is used up is ordered.

use serde::Deserialize;

use super::{ConfigError, Reader};
use crate::schedule::repeat::Repeat;
use crate::trade::restock::Terms;

/// How a program keeps its kits.
#[derive(Debug, Clone, PartialEq)]
pub struct Kits {
    /// When keepers are asked to count.
    pub count: Repeat,
    /// When the order list is sent to who orders.
    pub order: Repeat,
    /// How orders are reckoned.
    pub terms: Terms,
}

/// Mondays at nine. Common practice, no published source.
const COUNT: &str = "0 9 * * mon";
/// Tuesdays at nine, after the counts. Common practice, no published source.
const ORDER: &str = "0 9 * * tue";

/// `[programs.KEY.kits]`.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(super) struct KitsTable {
    count: Option<String>,
    order: Option<String>,
    service: Option<f64>,
    lead_days: Option<i64>,
    cover_days: Option<i64>,
}

impl Reader<'_> {
    pub(super) fn kits(&self, key: &str, table: KitsTable) -> Result<Kits, ConfigError> {
        let repeat = |name: &str, text: Option<&str>, default: &str| {
            let text = text.unwrap_or(default);
            text.parse::<Repeat>().map_err(|error| self.wrong(format!("{key}.{name}"), error.to_string()))
        };
        let mut settings = Kits {
            count: repeat("count", table.count.as_deref(), COUNT)?,
            order: repeat("order", table.order.as_deref(), ORDER)?,
            terms: Terms::default(),
        };
        if let Some(service) = table.service {
            if !(0.5..1.0).contains(&service) {
                return Err(self.wrong(
                    format!("{key}.service"),
                    format!("`{service}` is no share from 0.5 to below 1; write 0.95 for 95 in 100"),
                ));
            }
            settings.terms.service = service;
        }
        let days = |name: &str, days: i64| match days {
            1..=365 => Ok(days),
            _ => Err(self.wrong(format!("{key}.{name}"), format!("`{days}` is not a number of days from 1 to 365"))),
        };
        if let Some(lead) = table.lead_days {
            settings.terms.lead_days = days("lead_days", lead)?;
        }
        if let Some(cover) = table.cover_days {
            settings.terms.cover_days = days("cover_days", cover)?;
        }
        Ok(settings)
    }
}
