//! Which role may open which page: one table. A path that is not in it is denied to everybody, whatever the router says.

use crate::trade::roster::{Role, StaffMember};

use Role::{Administrator, Coach, Equipment, Responder, Trainer};

const HELMETS: &[Role] = &[Trainer, Equipment];
/// Who orders, and who pays for it.
const ORDERS: &[Role] = &[Trainer, Equipment, Administrator];
/// Who takes part in the response to an emergency.
const RESPONSE: &[Role] = &[Trainer, Equipment, Coach, Responder];
const EVERYBODY: &[Role] = &[Trainer, Equipment, Coach, Responder, Administrator];

/// Paths as the router writes them, and who may use each.
pub const ACCESS: &[(&str, &[Role])] = &[
    ("/board", HELMETS),
    ("/board/silent", HELMETS),
    ("/board/print", HELMETS),
    ("/board/athlete/{id}", HELMETS),
    // What each may do there is the desk's to say: an administrator sees to people to reach, and to nothing else.
    ("/board/act", &[Trainer, Equipment, Administrator]),
    ("/board/trainer", &[Trainer]),
    ("/board/trainer/act", &[Trainer]),
    ("/board/clearance", &[Trainer]),
    ("/board/clearance/{id}", &[Trainer]),
    ("/board/families", &[Trainer, Administrator]),
    ("/board/families/ask", &[Trainer, Administrator]),
    ("/board/messages", &[Trainer, Equipment, Administrator]),
    ("/board/season", &[Trainer, Equipment, Administrator]),
    ("/board/settings", &[Trainer, Equipment, Administrator]),
    ("/board/availability", &[Trainer, Coach]),
    ("/board/events", &[Trainer, Equipment, Coach, Administrator]),
    ("/board/drills", RESPONSE),
    ("/board/drills/record", RESPONSE),
    ("/board/helmets", ORDERS),
    ("/board/helmets/note", HELMETS),
    ("/board/kits", HELMETS),
    ("/board/kits/count", HELMETS),
    ("/board/orders", ORDERS),
    ("/board/orders.csv", ORDERS),
    ("/board/orders/note", HELMETS),
    ("/board/coming", EVERYBODY),
    ("/board/calendar", EVERYBODY),
    ("/board/welcome", EVERYBODY),
    ("/sign-out", EVERYBODY),
];

/// Whether a staff member may use the page at this path.
#[must_use]
pub fn may(member: &StaffMember, path: &str) -> bool {
    ACCESS.iter().any(|(known, roles)| *known == path && roles.iter().any(|role| member.has(*role)))
}

/// Pages of the menu, in its order.
const MENU: &[(&str, &str)] = &[
    ("/board", "Today"),
    ("/board/trainer", "Athletic trainer"),
    ("/board/clearance", "Held"),
    ("/board/availability", "Availability"),
    ("/board/coming", "Coming"),
    ("/board/drills", "Drills"),
    ("/board/helmets", "Helmets"),
    ("/board/kits", "Kits"),
    ("/board/orders", "Orders"),
    ("/board/families", "Families"),
    ("/board/messages", "Messages"),
    ("/board/season", "Season"),
    ("/board/settings", "Settings"),
];

/// The menu of a staff member: address and name of each page they may open.
#[must_use]
pub fn menu(member: &StaffMember) -> Vec<(&'static str, &'static str)> {
    MENU.iter().filter(|(path, _)| may(member, path)).copied().collect()
}

/// Where a staff member comes to after signing in.
#[must_use]
pub fn home(member: &StaffMember) -> &'static str {
    menu(member).first().map_or("/board/welcome", |(path, _)| path)
}
