//! Worst cases of what families are told.

use super::message::{Kind, Message};

const FIRST: &str = "Constantinos";
const PROGRAM: &str = "Larkspur Valley Kestrels";
const CONTACT: &str = "Rosalinda Wetherington";
const CONTACT_PHONE: &str = "312-555-0142";
const PAGE: &str =
    "https://kestrels.larkspur-valley.example/family/larkspur/constantina-wetherington/0f1e2d3c4b5a69788796";

/// Examples of a message to families; none when the message is to somebody else.
pub(super) fn of(kind: Kind) -> Option<Vec<Message<'static>>> {
    let (program, first, contact, contact_phone) = (PROGRAM, FIRST, CONTACT, CONTACT_PHONE);
    let both = [(false, false), (false, true), (true, false), (true, true)];
    let each = [false, true];
    Some(match kind {
        Kind::FamilyWelcome => vec![Message::FamilyWelcome { program }],
        Kind::NoticeHeld => both
            .map(|(again, reply)| Message::NoticeHeld { program, first, contact, contact_phone, again, reply })
            .to_vec(),
        Kind::NoticeStep => vec![Message::NoticeStep { program, first, contact, contact_phone }],
        Kind::NoticeCleared => both
            .map(|(again, reply)| Message::NoticeCleared { program, first, contact, contact_phone, again, reply })
            .to_vec(),
        Kind::NoticeHelmetOut => vec![Message::NoticeHelmetOut { program, first, contact, contact_phone }],
        Kind::NoticeHelmetBack => vec![Message::NoticeHelmetBack { program, first, contact, contact_phone }],
        Kind::NoticeQuestion => vec![Message::NoticeQuestion { program, contact, contact_phone }],
        Kind::NoticeNoted => vec![Message::NoticeNoted {}],
        Kind::GuardianAsks => [None, Some(CONTACT_PHONE)]
            .map(|phone| Message::GuardianAsks { parent: CONTACT, who: "#12 Constantinos", phone })
            .to_vec(),
        Kind::FamilyAsk => vec![Message::FamilyAsk { program, first }],
        Kind::FamilyNoted => each.map(|tells| Message::FamilyNoted { first, tells }).to_vec(),
        Kind::ConsentAsk => {
            [None, Some(FIRST)].map(|child| Message::ConsentAsk { program, child, contact, contact_phone }).to_vec()
        }
        Kind::ConsentNoted => each.map(|agreed| Message::ConsentNoted { program, agreed }).to_vec(),
        Kind::MailSubject => vec![Message::MailSubject { program, first }],
        Kind::MailFooter => {
            each.map(|answer| Message::MailFooter { program, contact, contact_phone, page: PAGE, answer }).to_vec()
        }
        _ => return None,
    })
}
