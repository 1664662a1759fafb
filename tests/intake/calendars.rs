//! Calendars: RFC 5545's examples, daylight saving, moved and cancelled occurrences, what is refused.
