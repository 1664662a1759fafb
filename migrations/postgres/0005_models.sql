-- Helmet models: the program's own data about what each takes and how long it serves.
CREATE TABLE model (
    program TEXT NOT NULL,
    name TEXT NOT NULL,
    hardware TEXT,
    tools TEXT NOT NULL,
    spares TEXT NOT NULL,
    recertify_months BIGINT,
    retire_years BIGINT,
    notes TEXT,
    PRIMARY KEY (program, name)
);
