//! Time zones by the names that calendars give them: IANA, a path that ends in IANA, or Windows.

use std::collections::BTreeMap;

use chrono_tz::Tz;

use super::super::Fault;
use super::lines::Component;

/// Zones of one calendar: names that its VTIMEZONE components explain.
pub(super) struct Zones {
    explained: BTreeMap<String, Tz>,
}

impl Zones {
    /// Reads the VTIMEZONE components. Their own rules are left aside for the tz database's, which are kept up.
    pub(super) fn new(calendar: &Component) -> Self {
        let zones = calendar.children.iter().filter(|child| child.name == "VTIMEZONE");
        let explained = zones.filter_map(|zone| {
            let name = zone.text("TZID")?;
            let told = zone.text("X-LIC-LOCATION").or_else(|| zone.text("TZURL"))?;
            Some((name.to_owned(), by_name(told)?))
        });
        Self { explained: explained.collect() }
    }

    /// The zone of a TZID.
    ///
    /// # Errors
    /// A [`Fault`] when the name is none that is known: a time is not placed by guess.
    pub(super) fn find(&self, name: &str) -> Result<Tz, Fault> {
        let name = name.trim();
        by_name(name).or_else(|| self.explained.get(name).copied()).ok_or_else(|| {
            Fault::new(
                format!("the time zone `{name}` is not known"),
                "set the calendar to a zone such as America/Chicago and export it again",
            )
        })
    }
}

fn by_name(name: &str) -> Option<Tz> {
    if let Ok(zone) = name.parse() {
        return Some(zone);
    }
    let lower = name.to_lowercase();
    let windows = WINDOWS.iter().find(|(windows, display, _)| {
        lower == windows.to_lowercase() || (!display.is_empty() && lower.contains(&display.to_lowercase()))
    });
    windows.map(|(_, _, zone)| *zone).or_else(|| tail(name))
}

/// `/example.org/20260101_1/America/New_York`: the last three, two or one parts.
fn tail(name: &str) -> Option<Tz> {
    let parts: Vec<_> = name.split('/').filter(|part| !part.is_empty()).collect();
    let last = |count: usize| parts.get(parts.len().checked_sub(count)?..)?.join("/").parse().ok();
    if parts.len() < 2 {
        return None;
    }
    last(3).or_else(|| last(2))
}

use chrono_tz::{America as Am, Atlantic, Australia, Europe as Eu, Pacific};

/// Windows names, the wording that mail programs show for some of them, and the zone; after the Unicode CLDR's
/// windowsZones table, territory 001. The more particular wordings stand first.
const WINDOWS: [(&str, &str, Tz); 38] = [
    ("US Mountain Standard Time", "(UTC-07:00) Arizona", Am::Phoenix),
    ("US Eastern Standard Time", "Indiana (East)", Am::Indiana::Indianapolis),
    ("Central Standard Time (Mexico)", "Guadalajara, Mexico City, Monterrey", Am::Mexico_City),
    ("Mountain Standard Time (Mexico)", "Chihuahua, La Paz, Mazatlan", Am::Mazatlan),
    ("Pacific Standard Time (Mexico)", "(UTC-08:00) Baja California", Am::Tijuana),
    ("Eastern Standard Time (Mexico)", "(UTC-05:00) Chetumal", Am::Cancun),
    ("Eastern Standard Time", "Eastern Time (US & Canada)", Am::New_York),
    ("Central Standard Time", "Central Time (US & Canada)", Am::Chicago),
    ("Mountain Standard Time", "Mountain Time (US & Canada)", Am::Denver),
    ("Pacific Standard Time", "Pacific Time (US & Canada)", Am::Los_Angeles),
    ("Alaskan Standard Time", "(UTC-09:00) Alaska", Am::Anchorage),
    ("Aleutian Standard Time", "(UTC-10:00) Aleutian Islands", Am::Adak),
    ("Hawaiian Standard Time", "(UTC-10:00) Hawaii", Pacific::Honolulu),
    ("Atlantic Standard Time", "Atlantic Time (Canada)", Am::Halifax),
    ("Newfoundland Standard Time", "(UTC-03:30) Newfoundland", Am::St_Johns),
    ("Canada Central Standard Time", "(UTC-06:00) Saskatchewan", Am::Regina),
    ("Yukon Standard Time", "(UTC-07:00) Yukon", Am::Whitehorse),
    ("Central America Standard Time", "(UTC-06:00) Central America", Am::Guatemala),
    ("SA Pacific Standard Time", "Bogota, Lima, Quito", Am::Bogota),
    ("SA Western Standard Time", "Georgetown, La Paz, Manaus", Am::La_Paz),
    ("SA Eastern Standard Time", "Cayenne, Fortaleza", Am::Cayenne),
    ("Venezuela Standard Time", "(UTC-04:00) Caracas", Am::Caracas),
    ("Pacific SA Standard Time", "(UTC-04:00) Santiago", Am::Santiago),
    ("E. South America Standard Time", "(UTC-03:00) Brasilia", Am::Sao_Paulo),
    ("Argentina Standard Time", "Buenos Aires", Am::Argentina::Buenos_Aires),
    ("West Pacific Standard Time", "Guam, Port Moresby", Pacific::Port_Moresby),
    ("Samoa Standard Time", "(UTC+13:00) Samoa", Pacific::Apia),
    ("UTC", "Coordinated Universal Time", Tz::UTC),
    ("GMT Standard Time", "Dublin, Edinburgh, Lisbon, London", Eu::London),
    ("Greenwich Standard Time", "Monrovia, Reykjavik", Atlantic::Reykjavik),
    ("W. Europe Standard Time", "Amsterdam, Berlin, Bern", Eu::Berlin),
    ("Romance Standard Time", "Brussels, Copenhagen, Madrid, Paris", Eu::Paris),
    ("Central Europe Standard Time", "Belgrade, Bratislava, Budapest", Eu::Budapest),
    ("Central European Standard Time", "Sarajevo, Skopje, Warsaw", Eu::Warsaw),
    ("FLE Standard Time", "Helsinki, Kyiv, Riga", Eu::Kyiv),
    ("GTB Standard Time", "Athens, Bucharest", Eu::Bucharest),
    ("AUS Eastern Standard Time", "Canberra, Melbourne, Sydney", Australia::Sydney),
    ("New Zealand Standard Time", "Auckland, Wellington", Pacific::Auckland),
];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn zones_by_their_many_names() {
        for (name, zone) in [
            ("America/Chicago", "America/Chicago"),
            ("/example.org/20260101_1/America/New_York", "America/New_York"),
            ("/example.org/America/Indiana/Knox", "America/Indiana/Knox"),
            ("Central Standard Time", "America/Chicago"),
            ("central standard time", "America/Chicago"),
            ("(UTC-06:00) Central Time (US & Canada)", "America/Chicago"),
            ("(UTC-06:00) Guadalajara, Mexico City, Monterrey", "America/Mexico_City"),
            ("US Mountain Standard Time", "America/Phoenix"),
        ] {
            assert_eq!(by_name(name).map(|zone| zone.name()), Some(zone), "{name}");
        }
        for name in ["", "Home", "My Zone/Chicago", "Customized Time Zone 1"] {
            assert_eq!(by_name(name), None, "{name}");
        }
    }
}
