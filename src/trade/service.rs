//! How long a helmet serves: when it has to be recertified, when it is no longer certified, when it retires, and by when it
//! has to leave to be back in time.

use chrono::{Datelike as _, Months, NaiveDate, TimeDelta};
use serde::{Deserialize, Serialize};

use super::model::{Model, find};
use super::roster::Helmet;

/// A program's rules, where a model has none of its own.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Rules {
    /// Months after which a helmet is due to be recertified.
    pub recertify_months: u32,
    /// Months after which it is no longer certified.
    pub certified_months: u32,
    /// Age in years at which reconditioners take it no more.
    pub retire_years: i32,
}

impl Default for Rules {
    /// Yearly unless the maker says otherwise (reconditioners' association, letters of 2019 and 2021); every year and at
    /// least every other year (a state association's sheet); no helmet ten years of age or older, by date of manufacture
    /// (reconditioners' association, release of 9 March 2011).
    fn default() -> Self {
        Self { recertify_months: 12, certified_months: 24, retire_years: 10 }
    }
}

/// The dates that bound a helmet's service. Each is the last day on which all is well; none where the date that it counts
/// from is not known.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Limits {
    /// It is due to be recertified by this day.
    pub due: Option<NaiveDate>,
    /// It is certified until this day: a helmet that is not recertified within its interval is no longer certified (NOCSAE
    /// ND001, 6.1.1).
    pub certified: Option<NaiveDate>,
    /// It serves until this day, and never after.
    pub serves: Option<NaiveDate>,
}

/// The limits of a helmet. A new one counts as certified from the day it was made. A model's interval is its maker's word
/// and bounds both due date and certification.
///
/// Age: for the season of a year Y reconditioners refuse what was made in Y−10 or earlier, so a helmet made in M serves
/// through the end of M+9. The standards body says "not more than ten years"; the two differ by up to a year, and the
/// stricter holds here.
#[must_use]
pub fn limits(helmet: &Helmet, models: &[Model], rules: &Rules) -> Limits {
    let model = find(models, &helmet.model);
    let interval = model.and_then(|model| model.recertify_months).and_then(|months| u32::try_from(months).ok());
    let retire = model.and_then(|model| model.retire_years).and_then(|years| i32::try_from(years).ok());
    let base = helmet.recertified.max(helmet.made);
    let after = |months: u32| base.and_then(|base| base.checked_add_months(Months::new(months)));
    let serves = helmet
        .made
        .and_then(|made| NaiveDate::from_ymd_opt(made.year() + retire.unwrap_or(rules.retire_years) - 1, 12, 31));
    Limits {
        due: after(interval.map_or(rules.recertify_months, |months| months.min(rules.recertify_months))),
        certified: after(interval.unwrap_or(rules.certified_months)),
        serves,
    }
}

/// How a helmet stands on a day.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Standing {
    /// It failed an inspection: never to be worn again.
    Failed,
    /// It is too old: never to be worn again.
    Retired,
    /// It is no longer certified: not to be worn until it is recertified.
    Lapsed,
    /// It is at the shop, or on its way.
    Away,
    /// It may be worn, and is due to be recertified.
    Due,
    /// It may be worn.
    InService,
    /// It may be worn as far as anybody knows: neither its making nor a recertification is on file.
    Unknown,
}

impl Standing {
    /// Whether a helmet that stands so may be worn.
    #[must_use]
    pub const fn may_be_worn(self) -> bool {
        matches!(self, Self::Due | Self::InService | Self::Unknown)
    }

    /// In words.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::Failed => "failed inspection",
            Self::Retired => "too old",
            Self::Lapsed => "no longer certified",
            Self::Away => "away",
            Self::Due => "due",
            Self::InService => "in service",
            Self::Unknown => "dates unknown",
        }
    }
}

/// How a helmet stands on a day. A helmet that is three years old on a two-year interval is not used, and may be
/// recertified if it is not too old (the standards body's own example).
#[must_use]
pub fn standing(helmet: &Helmet, limits: &Limits, on: NaiveDate) -> Standing {
    let past = |limit: Option<NaiveDate>| limit.is_some_and(|limit| limit < on);
    if helmet.failed.is_some() {
        Standing::Failed
    } else if past(limits.serves) {
        Standing::Retired
    } else if helmet.shipped.is_some() {
        Standing::Away
    } else if past(limits.certified) {
        Standing::Lapsed
    } else if past(limits.due) {
        Standing::Due
    } else if limits.certified.is_none() {
        Standing::Unknown
    } else {
        Standing::InService
    }
}

/// How long each part of a helmet's way to the shop and back takes, in days.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Lead {
    /// Packing.
    pub packing: i64,
    /// To the shop.
    pub outbound: i64,
    /// At the shop.
    pub turnaround: i64,
    /// Back.
    pub inbound: i64,
    /// Fitting days before the first practice.
    pub fitting: i64,
}

impl Default for Lead {
    /// Common practice, no published source.
    fn default() -> Self {
        Self { packing: 2, outbound: 5, turnaround: 42, inbound: 5, fitting: 3 }
    }
}

impl Lead {
    /// Days from leaving until it is back.
    #[must_use]
    pub const fn away(&self) -> i64 {
        self.outbound + self.turnaround + self.inbound
    }

    /// The dates of the way, reckoned backward from the first practice.
    #[must_use]
    pub fn backward(&self, first_practice: NaiveDate) -> Way {
        let fit = first_practice - TimeDelta::days(self.fitting);
        let ready = fit - TimeDelta::days(self.inbound);
        let at_shop = ready - TimeDelta::days(self.turnaround);
        let ship_by = at_shop - TimeDelta::days(self.outbound);
        Way { pack: ship_by - TimeDelta::days(self.packing), ship_by, at_shop, ready, fit, first_practice }
    }
}

/// The dates of a helmet's way to the shop and back.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Way {
    /// Packing begins.
    pub pack: NaiveDate,
    /// It leaves at the latest.
    pub ship_by: NaiveDate,
    /// It is at the shop.
    pub at_shop: NaiveDate,
    /// The shop has done it.
    pub ready: NaiveDate,
    /// It is back: fitting begins.
    pub fit: NaiveDate,
    /// First practice.
    pub first_practice: NaiveDate,
}

/// Whether a helmet has to go before a season: it would be past its due date before the season ends, and it is not at its
/// end. What is already away goes no second time.
#[must_use]
pub fn has_to_go(helmet: &Helmet, limits: &Limits, season: (NaiveDate, NaiveDate)) -> bool {
    let too_old = limits.serves.is_some_and(|serves| serves < season.0);
    helmet.failed.is_none() && helmet.shipped.is_none() && !too_old && limits.due.is_some_and(|due| due < season.1)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn day(text: &str) -> NaiveDate {
        text.parse().unwrap()
    }

    fn helmet(made: &str, recertified: Option<&str>) -> Helmet {
        Helmet { made: Some(day(made)), recertified: recertified.map(day), ..Helmet::sample("LV-001", "Tern") }
    }

    /// The reconditioners' example: at the end of the 2011 season anything dated 2002 or older is out; so for 2012 what was
    /// made in 2002, for 2027 what was made in 2017, while 2018 is still taken.
    #[test]
    fn ten_years_by_the_reconditioners_rule() {
        let rules = Rules::default();
        let serves = |made: &str| limits(&helmet(made, None), &[], &rules).serves.unwrap();
        assert_eq!(serves("2002-11-30"), day("2011-12-31"));
        assert!(serves("2017-12-31") < day("2027-01-01"), "rejected for the season of 2027");
        assert!(serves("2018-01-01") >= day("2027-12-31"), "still taken for it");
        // At exactly ten years the standards body's "not more than ten" would still allow it; the stricter rule does not.
        let exactly = limits(&helmet("2016-08-01", None), &[], &rules);
        let with = Helmet { recertified: Some(day("2026-02-01")), ..helmet("2016-08-01", None) };
        assert_eq!(standing(&with, &exactly, day("2026-08-01")), Standing::Retired);
    }

    /// The standards body's example: two-year cycle, three years old: not to be used, and may be recertified.
    #[test]
    fn lapsed_is_out_of_use_and_can_be_mended() {
        let rules = Rules::default();
        let old = helmet("2023-08-01", None);
        let on = day("2026-08-02");
        assert_eq!(standing(&old, &limits(&old, &[], &rules), on), Standing::Lapsed);
        let mended = Helmet { recertified: Some(day("2026-07-20")), ..old };
        assert_eq!(standing(&mended, &limits(&mended, &[], &rules), on), Standing::InService);
    }

    #[test]
    fn yearly_is_due_and_every_other_year_is_the_end() {
        let rules = Rules::default();
        let worn = helmet("2024-01-10", Some("2025-02-01"));
        let limits = limits(&worn, &[], &rules);
        assert_eq!((limits.due, limits.certified), (Some(day("2026-02-01")), Some(day("2027-02-01"))));
        let on = |text: &str| standing(&worn, &limits, day(text));
        assert_eq!(on("2026-02-01"), Standing::InService, "the last day counts");
        assert_eq!(on("2026-02-02"), Standing::Due);
        assert_eq!(on("2027-02-01"), Standing::Due);
        assert_eq!(on("2027-02-02"), Standing::Lapsed);
    }

    #[test]
    fn a_makers_interval_binds_and_failure_is_final() {
        let model = Model { recertify_months: Some(6), retire_years: Some(8), ..Model::sample("Tern", None) };
        let worn = helmet("2024-01-31", Some("2025-08-31"));
        let own = limits(&worn, &[model], &Rules::default());
        assert_eq!(own.due, Some(day("2026-02-28")), "the last day of a shorter month");
        assert_eq!(own.certified, own.due);
        assert_eq!(own.serves, Some(day("2031-12-31")));
        let failed = Helmet { failed: Some("crack".into()), ..worn };
        assert_eq!(standing(&failed, &own, day("2025-09-01")), Standing::Failed);
    }

    #[test]
    fn ship_by_is_reckoned_backward() {
        let lead = Lead { packing: 2, outbound: 5, turnaround: 42, inbound: 5, fitting: 3 };
        let way = lead.backward(day("2027-08-02"));
        assert_eq!(way.fit, day("2027-07-30"));
        assert_eq!(way.ready, day("2027-07-25"));
        assert_eq!(way.at_shop, day("2027-06-13"));
        assert_eq!(way.ship_by, day("2027-06-08"));
        assert_eq!(way.pack, day("2027-06-06"));
        assert_eq!(way.ship_by + TimeDelta::days(lead.away()), way.fit);
    }

    #[test]
    fn who_is_due_within_the_season_goes_before_it() {
        let rules = Rules::default();
        let season = (day("2027-08-02"), day("2027-11-30"));
        let goes = |made: &str, recertified: Option<&str>| {
            let helmet = helmet(made, recertified);
            has_to_go(&helmet, &limits(&helmet, &[], &rules), season)
        };
        assert!(goes("2024-03-01", Some("2026-02-01")));
        assert!(!goes("2027-03-01", None), "new");
        assert!(!goes("2017-03-01", Some("2026-02-01")), "too old for the season: it is replaced");
    }
}
