-- What unclear replies meant, by the word of staff: labelled lines by which the reader is judged.
--
-- The key is the item and the message or click that said it: said again with the same message, it is there already; said
-- anew, both stand. The athlete is not named: the text and what it meant are all that is exported.
CREATE TABLE interpretation (
    program TEXT NOT NULL,
    id TEXT NOT NULL,
    text TEXT NOT NULL,
    lang TEXT NOT NULL CHECK (lang IN ('en', 'es', 'mix')),
    reading TEXT NOT NULL CHECK (reading IN ('all_clear', 'flagged', 'unclear', 'control')),
    flags TEXT NOT NULL CHECK (json_valid(flags)),
    said_by TEXT NOT NULL,
    at INTEGER NOT NULL,
    PRIMARY KEY (program, id)
) STRICT;

-- What was closed, the newest first: how long fixes take, and what was done today.
CREATE INDEX item_closed ON item (program, closed_at) WHERE state = 'closed';

-- Hours on duty, "14:00-18:30" in the program's zone: the plan counts hands when they are there, and an alert goes first to
-- who is. Without, all day.
ALTER TABLE staff ADD COLUMN hours TEXT;
