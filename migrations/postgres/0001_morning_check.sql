-- The morning check, from roster to record.
--
-- Every table belongs to a program, whose key leads every key and index, so that programs can be spread over machines.
-- Instants are milliseconds UTC (suffix _at, or _by for a limit); local dates are YYYY-MM-DD in the program's zone.
-- Lists and documents are JSON kept as text: read whole, never searched.

-- One row a program. Its lock serialises whoever changes the program's state; it carries the head of the record.
CREATE TABLE program (
    program TEXT NOT NULL PRIMARY KEY,
    record_seq BIGINT NOT NULL,
    record_hash TEXT NOT NULL
);

CREATE TABLE athlete (
    program TEXT NOT NULL,
    id TEXT NOT NULL,
    team TEXT NOT NULL,
    jersey TEXT, -- not known early in a season; "00" is a number too, hence text
    first TEXT NOT NULL,
    last TEXT NOT NULL,
    born TEXT, -- without it the athlete is treated as a minor
    language TEXT NOT NULL CHECK (language IN ('en', 'es')),
    phone TEXT, -- shared, or absent: then checked by hand
    active BOOLEAN NOT NULL,
    PRIMARY KEY (program, id)
);
CREATE INDEX athlete_phone ON athlete (program, phone);
CREATE INDEX athlete_team ON athlete (program, team);

CREATE TABLE guardian (
    program TEXT NOT NULL,
    id TEXT NOT NULL,
    first TEXT NOT NULL,
    last TEXT NOT NULL,
    phone TEXT,
    email TEXT,
    language TEXT NOT NULL CHECK (language IN ('en', 'es')),
    PRIMARY KEY (program, id)
);
CREATE INDEX guardian_phone ON guardian (program, phone);

CREATE TABLE guardianship (
    program TEXT NOT NULL,
    guardian TEXT NOT NULL,
    athlete TEXT NOT NULL,
    relation TEXT,
    PRIMARY KEY (program, guardian, athlete)
);
CREATE INDEX guardianship_athlete ON guardianship (program, athlete);

CREATE TABLE staff (
    program TEXT NOT NULL,
    id TEXT NOT NULL,
    first TEXT NOT NULL,
    last TEXT NOT NULL,
    phone TEXT,
    email TEXT,
    language TEXT NOT NULL CHECK (language IN ('en', 'es')),
    roles TEXT NOT NULL,
    teams TEXT NOT NULL, -- empty: all
    duty TEXT NOT NULL, -- weekdays; empty: every day
    call_order BIGINT NOT NULL,
    active BOOLEAN NOT NULL,
    PRIMARY KEY (program, id)
);

CREATE TABLE helmet (
    program TEXT NOT NULL,
    tag TEXT NOT NULL,
    model TEXT NOT NULL,
    size TEXT,
    serial TEXT,
    athlete TEXT, -- a spare has no wearer
    made TEXT,
    recertified TEXT,
    notes TEXT,
    PRIMARY KEY (program, tag)
);
CREATE INDEX helmet_athlete ON helmet (program, athlete);

CREATE TABLE event (
    program TEXT NOT NULL,
    id TEXT NOT NULL,
    team TEXT NOT NULL,
    kind TEXT NOT NULL CHECK (kind IN ('practice', 'game')),
    starts_at BIGINT NOT NULL,
    ends_at BIGINT,
    date TEXT NOT NULL,
    place TEXT,
    helmets BOOLEAN NOT NULL,
    cancelled BOOLEAN NOT NULL,
    source TEXT NOT NULL,
    PRIMARY KEY (program, id)
);
CREATE INDEX event_date ON event (program, date);

-- Consent is for one number and one person: a new number needs a new consent, and the old row stays as proof.
CREATE TABLE consent (
    program TEXT NOT NULL,
    phone TEXT NOT NULL,
    person TEXT NOT NULL,
    given_by TEXT NOT NULL,
    standing TEXT NOT NULL CHECK (standing IN ('own', 'guardian')),
    given_on TEXT NOT NULL,
    how TEXT NOT NULL,
    PRIMARY KEY (program, phone, person)
);

-- One check an athlete and day, however often the schedule runs.
CREATE TABLE morning_check (
    program TEXT NOT NULL,
    date TEXT NOT NULL,
    athlete TEXT NOT NULL,
    team TEXT NOT NULL,
    event TEXT NOT NULL,
    phone TEXT,
    state TEXT NOT NULL CHECK (state IN ('planned', 'sent', 'clear', 'flagged', 'unclear', 'later', 'absent', 'by_hand', 'missed', 'held', 'called_off')),
    by_hand TEXT,
    flags TEXT NOT NULL,
    asked_again BOOLEAN NOT NULL,
    answered_at BIGINT,
    last_text TEXT,
    last_text_at BIGINT,
    PRIMARY KEY (program, date, athlete)
);
CREATE INDEX morning_check_athlete ON morning_check (program, athlete, date);

-- The key names queue, subject and day, so that more flags add to the item that is there.
CREATE TABLE item (
    program TEXT NOT NULL,
    id TEXT NOT NULL,
    queue TEXT NOT NULL CHECK (queue IN ('equipment', 'medical', 'contact')),
    athlete TEXT, -- an unknown number has none
    team TEXT,
    event TEXT,
    date TEXT NOT NULL,
    flags TEXT NOT NULL,
    about TEXT,
    replies TEXT NOT NULL,
    photos TEXT NOT NULL,
    state TEXT NOT NULL CHECK (state IN ('open', 'taken', 'closed')),
    red_flag BOOLEAN NOT NULL,
    opened_at BIGINT NOT NULL,
    due_at BIGINT,
    taken_by TEXT,
    taken_at BIGINT,
    closed_by TEXT,
    closed_at BIGINT,
    done TEXT,
    alerts BIGINT NOT NULL,
    PRIMARY KEY (program, id)
);
CREATE INDEX item_open ON item (program, queue) WHERE state <> 'closed';
CREATE INDEX item_athlete ON item (program, athlete, date);

CREATE TABLE hold (
    program TEXT NOT NULL,
    id TEXT NOT NULL,
    athlete TEXT NOT NULL,
    kind TEXT NOT NULL CHECK (kind IN ('equipment', 'trainer', 'medical')),
    opened_at BIGINT NOT NULL,
    opened_by TEXT NOT NULL,
    closed_at BIGINT,
    closed_by TEXT,
    PRIMARY KEY (program, id)
);
CREATE INDEX hold_open ON hold (program, athlete) WHERE closed_at IS NULL;

CREATE TABLE number (
    program TEXT NOT NULL,
    phone TEXT NOT NULL,
    opted_out_at BIGINT,
    wrong_at BIGINT,
    trouble TEXT,
    trouble_at BIGINT,
    welcomed_at BIGINT,
    asked TEXT, -- the question that waits for an answer; a newer one replaces it
    PRIMARY KEY (program, phone)
);

-- Messages to send. The key is natural: a second insert of the same is nothing. A row leaves by lease, so that a crash
-- frees it; first_tried_at is set before the hand-over, so that what may have gone out is looked for.
CREATE TABLE outbox (
    program TEXT NOT NULL,
    id TEXT NOT NULL,
    phone TEXT NOT NULL,
    body TEXT NOT NULL,
    purpose TEXT NOT NULL,
    priority BIGINT NOT NULL, -- lower goes first
    segments BIGINT NOT NULL,
    athlete TEXT,
    date TEXT,
    state TEXT NOT NULL CHECK (state IN ('due', 'claimed', 'sent', 'delivered', 'failed', 'cancelled', 'missed')),
    due_at BIGINT NOT NULL,
    send_by BIGINT,
    created_at BIGINT NOT NULL,
    attempts BIGINT NOT NULL,
    first_tried_at BIGINT,
    in_doubt BOOLEAN NOT NULL,
    claimed_by TEXT,
    lease_until BIGINT,
    carrier_id TEXT,
    sent_at BIGINT,
    error TEXT,
    PRIMARY KEY (program, id)
);
CREATE INDEX outbox_due ON outbox (program, priority, due_at, id) WHERE state = 'due';
CREATE INDEX outbox_claimed ON outbox (program, lease_until) WHERE state = 'claimed';
CREATE INDEX outbox_phone ON outbox (program, phone) WHERE state = 'due';
CREATE INDEX outbox_carrier ON outbox (program, carrier_id);
CREATE INDEX outbox_sent ON outbox (program, sent_at);

-- Messages heard, as they came. The key is the carrier's id: a second delivery is nothing.
CREATE TABLE inbox (
    program TEXT NOT NULL,
    id TEXT NOT NULL,
    phone TEXT NOT NULL,
    body TEXT NOT NULL,
    photos TEXT NOT NULL,
    carrier_answered TEXT,
    received_at BIGINT NOT NULL,
    handled BOOLEAN NOT NULL, -- false only when its consequences failed: it is tried again and never lost
    athletes TEXT NOT NULL,
    reading TEXT,
    PRIMARY KEY (program, id)
);
CREATE INDEX inbox_unhandled ON inbox (program, received_at) WHERE NOT handled;
CREATE INDEX inbox_phone ON inbox (program, phone, received_at);

-- Append-only: each line carries the hash of the one before, so that a change shows.
CREATE TABLE record (
    program TEXT NOT NULL,
    seq BIGINT NOT NULL,
    at BIGINT NOT NULL,
    who TEXT NOT NULL,
    what TEXT NOT NULL,
    subject TEXT NOT NULL,
    why TEXT NOT NULL,
    message TEXT,
    previous TEXT NOT NULL,
    hash TEXT NOT NULL,
    PRIMARY KEY (program, seq)
);

-- What the schedule has done or given up; it is not done twice.
CREATE TABLE happening (
    program TEXT NOT NULL,
    id TEXT NOT NULL,
    at BIGINT NOT NULL,
    outcome TEXT NOT NULL,
    PRIMARY KEY (program, id)
);

-- The pace of a program's sending number, shared by every process that sends for it.
CREATE TABLE sender (
    program TEXT NOT NULL PRIMARY KEY,
    next_free_at BIGINT NOT NULL,
    halted_at BIGINT,
    halted_why TEXT
);

-- Delivery reports that came before their message was noted as sent: they are applied then.
CREATE TABLE early_status (
    program TEXT NOT NULL,
    carrier_id TEXT NOT NULL,
    delivered BOOLEAN NOT NULL,
    error_code BIGINT,
    at BIGINT NOT NULL,
    PRIMARY KEY (program, carrier_id)
);
