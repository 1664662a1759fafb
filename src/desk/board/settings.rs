//! A program's settings, to read: they are changed in the configuration file and by imports, not here.

use serde::Serialize;

use crate::desk::scene::phone_words;
use crate::desk::{Desk, DeskError};
use crate::trade::roster::{ProgramId, Role};
use crate::trade::times::When;

/// One setting.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Setting {
    /// What it is.
    pub name: String,
    /// What it is set to.
    pub value: String,
}

/// A staff member.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct StaffView {
    /// Name.
    pub name: String,
    /// Roles, in words.
    pub roles: String,
    /// Teams, or "all".
    pub teams: String,
    /// Days on duty, or "every day".
    pub duty: String,
    /// The number, or that there is none.
    pub phone: String,
}

/// The page.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct SettingsView {
    /// The program's own.
    pub program: Vec<Setting>,
    /// Each team's times.
    pub teams: Vec<(String, Vec<Setting>)>,
    /// Minutes a fix is taken to need, until enough of a kind are done.
    pub minutes: Vec<Setting>,
    /// Active staff, as they are called.
    pub staff: Vec<StaffView>,
}

impl Desk {
    /// The settings page.
    ///
    /// # Errors
    /// [`DeskError`] when the program is unknown or the store fails.
    pub async fn board_settings(&self, program: &ProgramId) -> Result<SettingsView, DeskError> {
        let program = self.program(program)?;
        let mut tx = self.core.store.read().await?;
        let staff = tx.staff(&program.id).await?;
        Ok(SettingsView {
            program: program_settings(program),
            teams: program.teams.values().map(|team| (team.name.clone(), team_settings(&team.times))).collect(),
            minutes: minutes(program),
            staff: staff.iter().map(staff_view).collect(),
        })
    }
}

fn set(name: &str, value: impl Into<String>) -> Setting {
    Setting { name: name.to_owned(), value: value.into() }
}

fn yes(is: bool) -> &'static str {
    if is { "yes" } else { "no" }
}

fn program_settings(program: &crate::config::Program) -> Vec<Setting> {
    vec![
        set("Name in texts", &program.name),
        set("Time zone", program.zone.name()),
        set("Texts come from", phone_words(&program.number)),
        set("A person to call", format!("{}, {}", program.contact, phone_words(&program.contact_phone))),
        set("Where helmets are fixed", program.equipment_room.as_deref().unwrap_or("the equipment room")),
        set("Alerts carry the athlete's own words to the athletic trainer", yes(program.words_to_trainer)),
        set("An alert that nobody answers is given again after", format!("{} minutes", program.alert_again_after.0)),
    ]
}

fn team_settings(times: &crate::trade::times::TeamTimes) -> Vec<Setting> {
    let minutes = |of: crate::trade::times::Minutes| format!("{} minutes", of.0);
    let before = |of: crate::trade::times::Minutes| format!("{} minutes before the start", of.0);
    let check = match times.check {
        When::At(time) => time.format("%-I:%M %P").to_string(),
        When::Before(lead) => format!("{} minutes before the start", lead.num_minutes()),
    };
    vec![
        set("Check goes out", check),
        set("The silent are reminded after", minutes(times.nudge_after)),
        set("Fix list goes out", before(times.fix_list_before)),
        set("Who is silent goes out", before(times.silent_before)),
        set("Availability goes out", before(times.availability_before)),
        set("Helmets are brought in by", before(times.fix_by_before)),
        set(
            "Quiet hours",
            format!("{} to {}", times.quiet.from.format("%-I:%M %P"), times.quiet.until.format("%-I:%M %P")),
        ),
    ]
}

fn minutes(program: &crate::config::Program) -> Vec<Setting> {
    use crate::trade::flag::Flag;
    Flag::ALL
        .into_iter()
        .filter(|flag| !flag.is_body())
        .map(|flag| {
            let of = program.fix_minutes.of(std::iter::once(flag).collect());
            set(&super::flag_words(std::iter::once(flag)), format!("{of} minutes"))
        })
        .collect()
}

const fn role_words(role: Role) -> &'static str {
    match role {
        Role::Trainer => "athletic trainer",
        Role::Equipment => "equipment",
        Role::Coach => "coach",
        Role::Responder => "emergency responder",
        Role::Administrator => "administrator",
    }
}

fn staff_view(member: &crate::trade::roster::StaffMember) -> StaffView {
    let list = |words: Vec<String>, none: &str| if words.is_empty() { none.to_owned() } else { words.join(", ") };
    StaffView {
        name: format!("{} {}", member.first, member.last),
        roles: list(member.roles.iter().map(|role| role_words(*role).to_owned()).collect(), "none"),
        teams: list(member.teams.iter().map(ToString::to_string).collect(), "all"),
        duty: list(member.duty.iter().map(|day| format!("{day:?}")).collect(), "every day"),
        phone: member.phone.as_ref().map_or_else(|| "no number".to_owned(), phone_words),
    }
}
