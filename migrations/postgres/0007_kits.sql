-- Kits, what they hold, and why a count changed.

CREATE TABLE kit (
    program TEXT NOT NULL,
    id TEXT NOT NULL, -- as staff text it: "2", "game"
    name TEXT NOT NULL,
    place TEXT,
    keeper TEXT, -- staff
    goes TEXT NOT NULL, -- JSON: to which kinds of event
    teams TEXT NOT NULL, -- JSON: empty means all
    counted_at BIGINT,
    PRIMARY KEY (program, id)
);

-- A count is truth; stock_move explains it.
CREATE TABLE stock (
    program TEXT NOT NULL,
    kit TEXT NOT NULL,
    item TEXT NOT NULL,
    par BIGINT NOT NULL,
    count BIGINT NOT NULL,
    on_order BIGINT NOT NULL,
    ordered_at BIGINT,
    expires TEXT, -- the first of them
    lead_days BIGINT,
    PRIMARY KEY (program, kit, item)
);

CREATE TABLE stock_move (
    program TEXT NOT NULL,
    id TEXT NOT NULL, -- the happening, and what moved
    kit TEXT NOT NULL,
    item TEXT NOT NULL,
    kind TEXT NOT NULL,
    change BIGINT NOT NULL, -- below 0 when fewer are left
    at BIGINT NOT NULL,
    who TEXT NOT NULL,
    PRIMARY KEY (program, id)
);
CREATE INDEX stock_move_at ON stock_move (program, at);
