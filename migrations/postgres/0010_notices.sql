-- Notices to guardians, by text and e-mail; consent by text; whether an athlete of age lets guardians be told.

ALTER TABLE guardian ADD COLUMN way TEXT CHECK (way IN ('text', 'email', 'both')); -- null: text where there is a number
ALTER TABLE guardian ADD COLUMN notices TEXT; -- kinds wanted; null: all
ALTER TABLE guardian ADD COLUMN backup BOOLEAN NOT NULL DEFAULT FALSE; -- hears only when the others do not answer

-- Consent by text keeps what was shown and what was answered, to the letter.
ALTER TABLE consent ADD COLUMN shown TEXT;
ALTER TABLE consent ADD COLUMN words TEXT;
ALTER TABLE consent ADD COLUMN at BIGINT;

-- One guardian and one piece of news. The id is natural: what, whom it is about, since when, who hears it.
CREATE TABLE notice (
    program TEXT NOT NULL,
    id TEXT NOT NULL,
    athlete TEXT NOT NULL,
    guardian TEXT NOT NULL,
    news TEXT NOT NULL,
    family TEXT NOT NULL, -- the same for all guardians who hear the same
    date TEXT NOT NULL,
    phone TEXT, -- where the text goes; null: no text
    email TEXT, -- where the e-mail goes; null: none
    state TEXT NOT NULL,
    made_at BIGINT NOT NULL,
    next_at BIGINT, -- when the next step is due; null: none
    acknowledged_at BIGINT,
    words TEXT, -- how it was acknowledged
    why TEXT, -- why it does not reach the guardian
    item TEXT, -- the item by which a person is to call
    PRIMARY KEY (program, id)
);
CREATE INDEX notice_family ON notice (program, family);
CREATE INDEX notice_athlete ON notice (program, athlete, made_at);
CREATE INDEX notice_email ON notice (program, email) WHERE email IS NOT NULL;
CREATE INDEX notice_phone ON notice (program, phone, made_at);
CREATE INDEX notice_next ON notice (program, next_at) WHERE next_at IS NOT NULL;
CREATE INDEX notice_made ON notice (program, made_at);
CREATE INDEX notice_item ON notice (program, item) WHERE item IS NOT NULL;

-- E-mail to send. Like the outbox, but that nobody can be asked whether a message arrived.
CREATE TABLE mail (
    program TEXT NOT NULL,
    id TEXT NOT NULL,
    guardian TEXT NOT NULL,
    athlete TEXT,
    address TEXT NOT NULL,
    subject TEXT NOT NULL,
    body TEXT NOT NULL,
    language TEXT NOT NULL CHECK (language IN ('en', 'es')),
    state TEXT NOT NULL CHECK (state IN ('due', 'claimed', 'sent', 'failed', 'cancelled')),
    due_at BIGINT NOT NULL,
    created_at BIGINT NOT NULL,
    attempts BIGINT NOT NULL,
    claimed_by TEXT,
    lease_until BIGINT,
    sent_at BIGINT,
    error TEXT,
    PRIMARY KEY (program, id)
);
CREATE INDEX mail_due ON mail (program, state, due_at);
CREATE INDEX mail_address ON mail (program, address);

-- What is known of an e-mail address.
CREATE TABLE address (
    program TEXT NOT NULL,
    address TEXT NOT NULL,
    withdrawn_at BIGINT, -- its owner wants no more
    trouble TEXT, -- what the mail server said
    trouble_at BIGINT,
    PRIMARY KEY (program, address)
);

-- The one question whether texts may be sent, to a number whose owner gave no consent.
CREATE TABLE consent_ask (
    program TEXT NOT NULL,
    person TEXT NOT NULL, -- whom the consent is about
    phone TEXT NOT NULL, -- the number it would be for
    asked TEXT NOT NULL, -- the number that was asked: the guardian's, for a minor
    given_by TEXT NOT NULL, -- who would give it
    standing TEXT NOT NULL CHECK (standing IN ('own', 'guardian')),
    shown TEXT NOT NULL, -- to the letter
    asked_by TEXT NOT NULL,
    asked_at BIGINT NOT NULL,
    answered_at BIGINT,
    agreed BOOLEAN,
    words TEXT, -- to the letter
    PRIMARY KEY (program, person, phone)
);
CREATE INDEX consent_ask_asked ON consent_ask (program, asked);

-- An athlete of age decides whether guardians hear of holds and clearances.
CREATE TABLE family_choice (
    program TEXT NOT NULL,
    athlete TEXT NOT NULL,
    asked_at BIGINT,
    tells BOOLEAN, -- null: not answered
    answered_at BIGINT,
    words TEXT,
    PRIMARY KEY (program, athlete)
);
