-- Signing in to the board. Of every token the store keeps the SHA-256 alone: who reads the database cannot sign in.

-- A link texted to a staff number: works once, and not for long.
CREATE TABLE sign_in (
    program TEXT NOT NULL,
    hash TEXT NOT NULL,
    staff TEXT NOT NULL,
    made_at BIGINT NOT NULL,
    ends_at BIGINT NOT NULL,
    used_at BIGINT,
    PRIMARY KEY (program, hash)
);
-- How many links somebody was sent lately.
CREATE INDEX sign_in_staff ON sign_in (program, staff, made_at);

-- A browser that is signed in. Roles are not kept here: they are those that the staff member has at each request.
CREATE TABLE session (
    program TEXT NOT NULL,
    hash TEXT NOT NULL,
    staff TEXT NOT NULL,
    made_at BIGINT NOT NULL,
    seen_at BIGINT NOT NULL, -- to the minute: a page that is read writes at most once in it
    ends_at BIGINT NOT NULL, -- whatever is done meanwhile
    ended_at BIGINT, -- signed out
    PRIMARY KEY (program, hash)
);
CREATE INDEX session_ends ON session (program, ends_at);
