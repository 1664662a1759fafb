-- The way back of an athlete who is held for a body reason. What is medical in it is sealed by the program.

CREATE TABLE course (
    program TEXT NOT NULL,
    id TEXT NOT NULL, -- athlete and the moment that the hold began
    athlete TEXT NOT NULL,
    category TEXT, -- sealed
    progression TEXT, -- sealed
    step BIGINT NOT NULL,
    since BIGINT NOT NULL,
    ready BOOLEAN NOT NULL,
    check_in BOOLEAN NOT NULL,
    opened_at BIGINT NOT NULL,
    opened_by TEXT NOT NULL,
    closed_at BIGINT,
    entries BIGINT NOT NULL,
    PRIMARY KEY (program, id)
);
CREATE INDEX course_open ON course (program, athlete) WHERE closed_at IS NULL;

-- Never changed.
CREATE TABLE course_entry (
    program TEXT NOT NULL,
    id TEXT NOT NULL, -- course and number
    course TEXT NOT NULL,
    athlete TEXT NOT NULL,
    at BIGINT NOT NULL,
    what TEXT NOT NULL, -- sealed
    step BIGINT NOT NULL,
    who TEXT NOT NULL,
    words TEXT, -- sealed
    PRIMARY KEY (program, id)
);
CREATE INDEX course_entry_of ON course_entry (program, athlete);

CREATE TABLE clearance (
    program TEXT NOT NULL,
    id TEXT NOT NULL,
    course TEXT NOT NULL,
    athlete TEXT NOT NULL,
    ends_hold BOOLEAN NOT NULL,
    decision TEXT NOT NULL, -- JSON, sealed: clinician, licence, document, reason
    at BIGINT NOT NULL,
    recorded_by TEXT NOT NULL,
    second TEXT,
    second_at BIGINT,
    withdrawn_at BIGINT, -- before the second person confirmed
    stands BOOLEAN NOT NULL,
    PRIMARY KEY (program, id)
);
CREATE INDEX clearance_of ON clearance (program, athlete);

-- The daily question to somebody who is held: how are you?
CREATE TABLE check_in (
    program TEXT NOT NULL,
    date TEXT NOT NULL,
    athlete TEXT NOT NULL,
    sent_at BIGINT NOT NULL,
    phone TEXT NOT NULL,
    state TEXT NOT NULL, -- sealed
    answered_at BIGINT,
    words TEXT, -- sealed
    PRIMARY KEY (program, date, athlete)
);
