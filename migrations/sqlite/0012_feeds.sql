-- A staff member's calendar feed: an address that nobody can guess. Of its token the SHA-256 alone is kept; a new address
-- ends the one before.
CREATE TABLE feed (
    program TEXT NOT NULL,
    hash TEXT NOT NULL,
    staff TEXT NOT NULL,
    made_at INTEGER NOT NULL,
    read_at INTEGER, -- to the hour: whether anybody still reads it
    ended_at INTEGER,
    PRIMARY KEY (program, hash)
) STRICT;
CREATE INDEX feed_staff ON feed (program, staff) WHERE ended_at IS NULL;
