//! Five hundred athletes who may be texted, their staff, and how each answers.

use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng as _, SeedableRng as _};

/// How many athletes.
pub const ATHLETES: usize = 500;
/// The program's sending number.
pub const PROGRAM: &str = "+13125550100";

const AREAS: [&str; 5] = ["201", "202", "203", "205", "206"];

/// One athlete.
pub struct Athlete {
    pub id: String,
    pub first: String,
    pub phone: String,
    /// What they reply to the check; the silent have none.
    pub reply: Option<&'static str>,
}

impl Athlete {
    /// The carrier's id of the reply, the same at each delivery.
    pub fn sid(&self) -> String {
        format!("SM{:0>32}", self.id.trim_start_matches('a'))
    }
}

/// What they say, with how many in a hundred say it.
const REPLIES: [(u32, Option<&str>); 4] =
    [(65, Some("OK")), (20, Some("strap broke")), (5, Some("my head hurts")), (10, None)];

pub fn athletes(seed: u64) -> Vec<Athlete> {
    let mut chance = ChaCha8Rng::seed_from_u64(seed);
    (0..ATHLETES)
        .map(|index| Athlete {
            id: format!("a{index}"),
            first: format!("Kit{}", letters(index)),
            phone: format!("+1{}55501{:02}", AREAS[index / 100], index % 100),
            reply: reply(chance.next_u32() % 100),
        })
        .collect()
}

fn reply(mut draw: u32) -> Option<&'static str> {
    for (share, reply) in REPLIES {
        if draw < share {
            return reply;
        }
        draw -= share;
    }
    None
}

/// A first name of its own for everybody, without digits.
fn letters(index: usize) -> String {
    [index / 26 / 26, index / 26 % 26, index % 26]
        .iter()
        .map(|digit| char::from(b'a' + u8::try_from(*digit).expect("a letter")))
        .collect()
}

/// The folder's files, by name.
pub fn files(athletes: &[Athlete]) -> Vec<(&'static str, String)> {
    let mut rows = String::from(
        "id,first,last,team,jersey,phone,language,born,consent_by,consent_standing,consent_date,consent_how\n",
    );
    for athlete in athletes {
        let (id, first, phone) = (&athlete.id, &athlete.first, &athlete.phone);
        rows +=
            &format!("{id},{first},Lind,varsity,,{phone},en,2009-03-02,Mara Lind,guardian,2026-08-01,signed form\n");
    }
    let staff = "\
id,first,last,phone,email,language,roles,teams,duty,call_order,consent_date,consent_how
ana,Ana,Ruiz,312-555-0101,,en,trainer,,,1,2026-08-01,signed form
cole,Cole,Hart,312-555-0103,,en,equipment,,,1,2026-08-01,signed form
dane,Dane,Ochs,312-555-0104,,en,coach,varsity,,1,2026-08-01,signed form
";
    let events = "\
id,team,kind,date,start,end,place,helmets,status
p15,varsity,practice,2026-09-15,15:30,17:30,Field 2,yes,on
";
    vec![("athletes.csv", rows), ("staff.csv", staff.to_owned()), ("events.csv", events.to_owned())]
}
