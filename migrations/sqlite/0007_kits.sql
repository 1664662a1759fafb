-- Kits, what they hold, and why a count changed.

CREATE TABLE kit (
    program TEXT NOT NULL,
    id TEXT NOT NULL, -- as staff text it: "2", "game"
    name TEXT NOT NULL,
    place TEXT,
    keeper TEXT, -- staff
    goes TEXT NOT NULL CHECK (json_valid(goes)), -- JSON: to which kinds of event
    teams TEXT NOT NULL CHECK (json_valid(teams)), -- JSON: empty means all
    counted_at INTEGER,
    PRIMARY KEY (program, id)
) STRICT;

-- A count is truth; stock_move explains it.
CREATE TABLE stock (
    program TEXT NOT NULL,
    kit TEXT NOT NULL,
    item TEXT NOT NULL,
    par INTEGER NOT NULL,
    count INTEGER NOT NULL,
    on_order INTEGER NOT NULL,
    ordered_at INTEGER,
    expires TEXT, -- the first of them
    lead_days INTEGER,
    PRIMARY KEY (program, kit, item)
) STRICT;

CREATE TABLE stock_move (
    program TEXT NOT NULL,
    id TEXT NOT NULL, -- the happening, and what moved
    kit TEXT NOT NULL,
    item TEXT NOT NULL,
    kind TEXT NOT NULL,
    change INTEGER NOT NULL, -- below 0 when fewer are left
    at INTEGER NOT NULL,
    who TEXT NOT NULL,
    PRIMARY KEY (program, id)
) STRICT;
CREATE INDEX stock_move_at ON stock_move (program, at);
