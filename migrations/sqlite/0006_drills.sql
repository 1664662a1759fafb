-- Drills of the emergency response, who of staff is away, and venues as the emergency action plan describes them.

-- Kept when taken back: undone counts for nothing.
CREATE TABLE drill (
    program TEXT NOT NULL,
    id TEXT NOT NULL,
    date TEXT NOT NULL,
    skill TEXT NOT NULL,
    place TEXT,
    people TEXT NOT NULL CHECK (json_valid(people)),
    models TEXT NOT NULL CHECK (json_valid(models)),
    seconds INTEGER, -- from the start until the airway was open
    notes TEXT,
    recorded_by TEXT NOT NULL,
    recorded_at INTEGER NOT NULL,
    undone INTEGER NOT NULL,
    PRIMARY KEY (program, id)
) STRICT;
CREATE INDEX drill_date ON drill (program, date);

CREATE TABLE absence (
    program TEXT NOT NULL,
    staff TEXT NOT NULL,
    first TEXT NOT NULL,
    last TEXT NOT NULL,
    cancelled INTEGER NOT NULL,
    PRIMARY KEY (program, staff, first)
) STRICT;
CREATE INDEX absence_last ON absence (program, last);

CREATE TABLE venue (
    program TEXT NOT NULL,
    name TEXT NOT NULL,
    address TEXT,
    entrance TEXT,
    aed TEXT,
    kit TEXT,
    hospital TEXT,
    notes TEXT,
    PRIMARY KEY (program, name)
) STRICT;
