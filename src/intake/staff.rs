//! Staff: roles, teams, days of duty, who is called first.

use super::cell::{self, key, slug};
use super::people::{self, People};
use super::table::{Column, Record, Table, column};
use super::{Fault, Findings, SourceFile, consent, when};
use crate::trade::roster::{Role, StaffId, StaffMember, TeamId};

pub(super) static STAFF: [Column; 15] = [
    people::ID,
    people::FIRST,
    people::LAST,
    column("name", &["fullname", "staffname", "staff", "nombrecompleto"]),
    people::PHONE,
    people::EMAIL,
    people::LANGUAGE,
    column("roles", &["role", "position", "title", "puesto"]),
    column("teams", &["team", "squad", "equipo", "equipos"]),
    column("duty", &["dutydays", "days", "ondutydays", "onduty", "dias"]),
    column("duty_hours", &["hours", "ondutyhours", "dutytime", "horas", "horario"]),
    column("call_order", &["order", "callfirst", "priority", "callpriority"]),
    people::CONSENT_DATE,
    people::CONSENT_HOW,
    people::ACTIVE,
];

/// Order of those whose row gives none: after everyone with a small number.
const LAST_CALLED: i64 = 9;

impl People<'_> {
    pub(super) fn read_staff(&mut self, file: &SourceFile, found: &mut Findings) {
        let table = Table::read(file, &STAFF, found);
        let named = table.has("name") || table.require(&["first", "last"], found);
        if !table.require(&["roles"], found) || !named {
            return;
        }
        for record in table.records() {
            let Some(member) = self.member(record, found) else {
                continue;
            };
            let name = format!("{} {}", member.first, member.last);
            self.take(&member.id.0, &name, record, found);
            let person = (member.id.as_str(), name.as_str());
            self.consents.extend(consent::of_adult(record, person, member.phone.as_ref(), self.frame, found));
            self.staff.push(member);
        }
    }

    fn member(&self, record: Record<'_>, found: &mut Findings) -> Option<StaffMember> {
        let name = people::name(record, found);
        let id = record.read("id", found, cell::id);
        let phone = record.read("phone", found, cell::phone).flatten();
        let email = record.read("email", found, cell::email);
        let language = record.read("language", found, cell::language).unwrap_or_default();
        if record.text("roles").is_none() {
            let fault = Fault::new("no role", format!("write one or more of {ROLES}"));
            record.problem("roles", fault, found);
        }
        let roles = self.each(record, "roles", found, role);
        let teams = self.teams(record, found);
        let duty = record.read("duty", found, when::duty).unwrap_or_default();
        let hours = record.read("duty_hours", found, when::hours);
        let call_order = record.read("call_order", found, call_order).unwrap_or(LAST_CALLED);
        let active = record.read("active", found, cell::yes).unwrap_or(true);
        let (first, last) = name?;
        let id = StaffId(id.unwrap_or_else(|| slug(&format!("{first} {last} staff"))));
        let program = self.frame.program.clone();
        Some(StaffMember {
            program,
            id,
            first,
            last,
            phone,
            email,
            language,
            roles,
            teams,
            duty,
            hours,
            call_order,
            active,
        })
    }

    fn teams(&self, record: Record<'_>, found: &mut Findings) -> Vec<TeamId> {
        let all = record.text("teams").is_some_and(|text| matches!(key(text).as_str(), "all" | "allteams" | "todos"));
        if all { Vec::new() } else { self.each(record, "teams", found, |text| cell::team(text, self.frame)) }
    }

    /// The values of a cell that lists several, sorted, each once.
    fn each<T: Ord>(
        &self,
        record: Record<'_>,
        name: &'static str,
        found: &mut Findings,
        parse: impl Fn(&str) -> Result<T, Fault>,
    ) -> Vec<T> {
        let mut values = Vec::new();
        let parts = record.text(name).unwrap_or_default().split([',', ';', '|', '/']);
        for part in parts.map(str::trim).filter(|part| !part.is_empty()) {
            match parse(part) {
                Ok(value) => values.push(value),
                Err(fault) => record.problem(name, fault, found),
            }
        }
        values.sort();
        values.dedup();
        values
    }
}

const ROLES: &str = "trainer, equipment, coach, responder, administrator";

fn role(text: &str) -> Result<Role, Fault> {
    match key(text).as_str() {
        "trainer"
        | "athletictrainer"
        | "headathletictrainer"
        | "assistantathletictrainer"
        | "at"
        | "atc"
        | "entrenadoratletico"
        | "medical" => Ok(Role::Trainer),
        "equipment" | "equipmentmanager" | "assistantequipmentmanager" | "manager" | "equipo" => Ok(Role::Equipment),
        "coach" | "headcoach" | "assistantcoach" | "entrenador" | "entrenadora" => Ok(Role::Coach),
        "responder" | "emergencyresponder" | "firstresponder" => Ok(Role::Responder),
        "administrator" | "admin" | "athleticdirector" | "programadministrator" | "ad" => Ok(Role::Administrator),
        _ => Err(Fault::new(format!("`{text}` is not a role"), format!("write one or more of {ROLES}"))),
    }
}

fn call_order(text: &str) -> Result<i64, Fault> {
    let bare = text.strip_suffix(".0").unwrap_or(text);
    bare.parse().ok().filter(|order| (1..=99).contains(order)).ok_or_else(|| {
        Fault::new(
            format!("`{text}` is not a place in the order of calls"),
            "write 1 for who is called first, then 2, 3",
        )
    })
}
