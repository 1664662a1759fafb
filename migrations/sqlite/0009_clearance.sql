-- The way back of an athlete who is held for a body reason. What is medical in it is sealed by the program.

CREATE TABLE course (
    program TEXT NOT NULL,
    id TEXT NOT NULL, -- athlete and the moment that the hold began
    athlete TEXT NOT NULL,
    category TEXT, -- sealed
    progression TEXT, -- sealed
    step INTEGER NOT NULL,
    since INTEGER NOT NULL,
    ready INTEGER NOT NULL CHECK (ready IN (0, 1)),
    check_in INTEGER NOT NULL CHECK (check_in IN (0, 1)),
    opened_at INTEGER NOT NULL,
    opened_by TEXT NOT NULL,
    closed_at INTEGER,
    entries INTEGER NOT NULL,
    PRIMARY KEY (program, id)
) STRICT;
CREATE INDEX course_open ON course (program, athlete) WHERE closed_at IS NULL;

-- Never changed.
CREATE TABLE course_entry (
    program TEXT NOT NULL,
    id TEXT NOT NULL, -- course and number
    course TEXT NOT NULL,
    athlete TEXT NOT NULL,
    at INTEGER NOT NULL,
    what TEXT NOT NULL, -- sealed
    step INTEGER NOT NULL,
    who TEXT NOT NULL,
    words TEXT, -- sealed
    PRIMARY KEY (program, id)
) STRICT;
CREATE INDEX course_entry_of ON course_entry (program, athlete);

CREATE TABLE clearance (
    program TEXT NOT NULL,
    id TEXT NOT NULL,
    course TEXT NOT NULL,
    athlete TEXT NOT NULL,
    ends_hold INTEGER NOT NULL CHECK (ends_hold IN (0, 1)),
    decision TEXT NOT NULL CHECK (json_valid(decision)), -- JSON, sealed: clinician, licence, document, reason
    at INTEGER NOT NULL,
    recorded_by TEXT NOT NULL,
    second TEXT,
    second_at INTEGER,
    withdrawn_at INTEGER, -- before the second person confirmed
    stands INTEGER NOT NULL CHECK (stands IN (0, 1)),
    PRIMARY KEY (program, id)
) STRICT;
CREATE INDEX clearance_of ON clearance (program, athlete);

-- The daily question to somebody who is held: how are you?
CREATE TABLE check_in (
    program TEXT NOT NULL,
    date TEXT NOT NULL,
    athlete TEXT NOT NULL,
    sent_at INTEGER NOT NULL,
    phone TEXT NOT NULL,
    state TEXT NOT NULL, -- sealed
    answered_at INTEGER,
    words TEXT, -- sealed
    PRIMARY KEY (program, date, athlete)
) STRICT;
