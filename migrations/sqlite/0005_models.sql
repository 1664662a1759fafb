-- Helmet models: the program's own data about what each takes and how long it serves.
CREATE TABLE model (
    program TEXT NOT NULL,
    name TEXT NOT NULL,
    hardware TEXT,
    tools TEXT NOT NULL CHECK (json_valid(tools)),
    spares TEXT NOT NULL CHECK (json_valid(spares)),
    recertify_months INTEGER,
    retire_years INTEGER,
    notes TEXT,
    PRIMARY KEY (program, name)
) STRICT;
