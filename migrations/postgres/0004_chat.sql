-- What stands, or is to stand, on the chat platform: one post an item, and direct messages. A row is the outbox entry and
-- the memory of the post at once: `body` is what is wanted, `posted_hash` what stands there. It leaves by lease, like a
-- text; the platform drops a second post with the same nonce, which is made from the key and `generation`.
CREATE TABLE chat_post (
    program TEXT NOT NULL,
    id TEXT NOT NULL, -- the item's key, or direct/...
    kind TEXT NOT NULL CHECK (kind IN ('item', 'direct')),
    channel TEXT, -- a direct message's is asked for when it is first posted
    chat_user TEXT, -- whom a direct message is for
    athlete TEXT, -- whose check a direct message asks for
    date TEXT,
    tag TEXT NOT NULL, -- the key, short enough for a button
    generation BIGINT NOT NULL, -- one more each time a deleted post is made anew
    body TEXT NOT NULL,
    hash TEXT NOT NULL,
    message_id TEXT, -- the platform's; absent while nothing stands there
    posted_hash TEXT,
    state TEXT NOT NULL CHECK (state IN ('due', 'claimed', 'posted', 'failed', 'cancelled', 'missed')),
    live BOOLEAN NOT NULL, -- false when nothing more will change
    stands_for TEXT, -- the text that goes out when this does not
    due_at BIGINT NOT NULL,
    send_by BIGINT,
    created_at BIGINT NOT NULL,
    posted_at BIGINT,
    attempts BIGINT NOT NULL,
    claimed_by TEXT,
    lease_until BIGINT,
    error TEXT,
    PRIMARY KEY (program, id)
);
CREATE INDEX chat_post_due ON chat_post (program, due_at) WHERE state = 'due';
CREATE INDEX chat_post_claimed ON chat_post (program, lease_until) WHERE state = 'claimed';
CREATE INDEX chat_post_live ON chat_post (program, id) WHERE live;
CREATE INDEX chat_post_tag ON chat_post (program, tag);

-- Which person an account of the platform is. One account is one person; a person's newest account is the one used.
CREATE TABLE chat_link (
    program TEXT NOT NULL,
    chat_user TEXT NOT NULL,
    kind TEXT NOT NULL CHECK (kind IN ('staff', 'athlete')),
    person TEXT NOT NULL,
    phone TEXT NOT NULL, -- the number that the code was texted to
    linked_at BIGINT NOT NULL,
    ended_at BIGINT,
    PRIMARY KEY (program, chat_user)
);
CREATE INDEX chat_link_person ON chat_link (program, kind, person);

-- One-time codes, as keyed hashes: what is stored links nobody.
CREATE TABLE chat_code (
    program TEXT NOT NULL,
    hash TEXT NOT NULL,
    kind TEXT NOT NULL CHECK (kind IN ('staff', 'athlete')),
    person TEXT NOT NULL,
    phone TEXT NOT NULL,
    made_at BIGINT NOT NULL,
    expires_at BIGINT NOT NULL,
    used_at BIGINT,
    PRIMARY KEY (program, hash)
);
CREATE INDEX chat_code_person ON chat_code (program, kind, person);

-- Wrong codes of an account since a moment: few are allowed.
CREATE TABLE chat_try (
    program TEXT NOT NULL,
    chat_user TEXT NOT NULL,
    tries BIGINT NOT NULL,
    since BIGINT NOT NULL,
    PRIMARY KEY (program, chat_user)
);

-- How the platform fares for a program: when it asked to wait until, why it refuses everything, and the gateway.
CREATE TABLE chat_state (
    program TEXT NOT NULL PRIMARY KEY,
    next_free_at BIGINT NOT NULL,
    halted_at BIGINT,
    halted_why TEXT,
    gateway TEXT,
    gateway_at BIGINT
);
