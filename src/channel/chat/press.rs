//! What a button or menu says when it is used: an action and the tag of what it is about, as one short text. Pure.
//!
//! The texts stand on the platform for as long as posts do, so old ones keep their meaning; the version leads.

/// Leads every control's id.
const VERSION: &str = "b1";

/// What was pressed or picked.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Press {
    /// Take the item.
    Take(String),
    /// The item is done, without more words.
    Done(String),
    /// Mark it fixed; what was done is picked.
    Fixed(String),
    /// Hand it on; to whom is picked.
    Hand(String),
    /// Hold the athlete.
    Hold(String),
    /// A check point, 1 to 7, of a check.
    Point(String, u8),
    /// "All good", of a check.
    AllGood(String),
    /// Really call the event off.
    CallOff(String),
    /// Rather not.
    LeaveOn,
}

impl Press {
    /// As a control's id.
    #[must_use]
    pub fn id(&self) -> String {
        match self {
            Self::Take(tag) => format!("{VERSION}:take:{tag}"),
            Self::Done(tag) => format!("{VERSION}:done:{tag}"),
            Self::Fixed(tag) => format!("{VERSION}:fixed:{tag}"),
            Self::Hand(tag) => format!("{VERSION}:hand:{tag}"),
            Self::Hold(tag) => format!("{VERSION}:hold:{tag}"),
            Self::Point(tag, point) => format!("{VERSION}:point:{tag}:{point}"),
            Self::AllGood(tag) => format!("{VERSION}:good:{tag}"),
            Self::CallOff(tag) => format!("{VERSION}:off:{tag}"),
            Self::LeaveOn => format!("{VERSION}:on"),
        }
    }

    /// The tag of what it is about.
    #[must_use]
    pub fn tag(&self) -> Option<&str> {
        match self {
            Self::Take(tag)
            | Self::Done(tag)
            | Self::Fixed(tag)
            | Self::Hand(tag)
            | Self::Hold(tag)
            | Self::Point(tag, _)
            | Self::AllGood(tag)
            | Self::CallOff(tag) => Some(tag),
            Self::LeaveOn => None,
        }
    }

    /// Reads a control's id; `None` when it is none of ours.
    #[must_use]
    pub fn read(id: &str) -> Option<Self> {
        let mut parts = id.split(':');
        if parts.next() != Some(VERSION) {
            return None;
        }
        let (action, tag, more) = (parts.next()?, parts.next(), parts.next());
        if parts.next().is_some() {
            return None;
        }
        let tag = tag.filter(|tag| !tag.is_empty()).map(ToOwned::to_owned);
        Some(match (action, tag, more) {
            ("take", Some(tag), None) => Self::Take(tag),
            ("done", Some(tag), None) => Self::Done(tag),
            ("fixed", Some(tag), None) => Self::Fixed(tag),
            ("hand", Some(tag), None) => Self::Hand(tag),
            ("hold", Some(tag), None) => Self::Hold(tag),
            ("point", Some(tag), Some(point)) => {
                Self::Point(tag, point.parse().ok().filter(|point| (1..=7).contains(point))?)
            }
            ("good", Some(tag), None) => Self::AllGood(tag),
            ("off", Some(tag), None) => Self::CallOff(tag),
            ("on", None, None) => Self::LeaveOn,
            _ => return None,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_press_reads_back_and_fits() {
        let tag = "0123456789abcdef".to_owned();
        for press in [
            Press::Take(tag.clone()),
            Press::Done(tag.clone()),
            Press::Fixed(tag.clone()),
            Press::Hand(tag.clone()),
            Press::Hold(tag.clone()),
            Press::Point(tag.clone(), 7),
            Press::AllGood(tag.clone()),
            Press::CallOff(tag),
            Press::LeaveOn,
        ] {
            assert!(press.id().len() <= 100);
            assert_eq!(Press::read(&press.id()), Some(press));
        }
    }

    #[test]
    fn what_is_not_ours_says_nothing() {
        for id in
            ["", "b1", "b1:take", "b1:take:", "b1:take:x:y", "b2:take:x", "b1:point:x:8", "b1:point:x:", "b1:on:x"]
        {
            assert_eq!(Press::read(id), None, "{id}");
        }
    }
}
