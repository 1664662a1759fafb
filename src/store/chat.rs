//! Rows and queries of the chat platform: posts, links, codes. A post is outbox entry and memory at once.

use chrono::NaiveDate;
use serde::{Deserialize, Serialize};

use super::{Result, Tx, list};
use crate::trade::phone::Phone;
use crate::trade::roster::{AthleteId, ProgramId};
use crate::trade::time::Moment;

macro_rules! args {
    ($($arg:expr),* $(,)?) => { vec![$(super::Arg::from($arg)),*] };
}

/// What a post is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum PostKind {
    /// An item's one post, in its queue's channel.
    Item,
    /// A direct message.
    Direct,
}

/// Where a post stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum PostState {
    /// Waits for its time and turn.
    Due,
    /// A worker has it under lease.
    Claimed,
    /// What is wanted stands there.
    Posted,
    /// The platform refuses it as it is.
    Failed,
    /// Not posted: nothing to say any more.
    Cancelled,
    /// Not posted: too late to be of use.
    Missed,
}

/// A post as it is wanted, and as it stands on the platform.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct ChatPost {
    /// The program.
    pub program: ProgramId,
    /// Natural key: the item's, or `direct/...`.
    pub id: String,
    /// What it is.
    pub kind: PostKind,
    /// The channel; a direct message's is asked for when it is first posted.
    pub channel: Option<String>,
    /// Whom a direct message is for.
    pub chat_user: Option<String>,
    /// Whose check a direct message asks for.
    pub athlete: Option<AthleteId>,
    /// The day of that check.
    pub date: Option<NaiveDate>,
    /// The key, short enough for a button.
    pub tag: String,
    /// One more each time a deleted post is made anew.
    pub generation: i64,
    /// What is wanted, in the platform's own words.
    pub body: serde_json::Value,
    /// Hash of what is wanted.
    pub hash: String,
    /// The platform's id, while something stands there.
    pub message_id: Option<String>,
    /// Hash of what stands there.
    pub posted_hash: Option<String>,
    /// Where it stands.
    pub state: PostState,
    /// False when nothing more will change.
    pub live: bool,
    /// Key of the text that goes out when this does not.
    pub stands_for: Option<String>,
    /// Not before.
    pub due_at: Moment,
    /// Not after.
    pub send_by: Option<Moment>,
    /// When it was first wanted.
    pub created_at: Moment,
    /// When the platform last took it.
    pub posted_at: Option<Moment>,
    /// How often it was handed over since it last succeeded.
    pub attempts: i64,
    /// Who has it.
    pub claimed_by: Option<String>,
    /// Until when.
    pub lease_until: Option<Moment>,
    /// The platform's last word.
    pub error: Option<String>,
}

/// What a linked person is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum PersonKind {
    /// A member of staff.
    Staff,
    /// An athlete.
    Athlete,
}

impl PersonKind {
    const fn name(self) -> &'static str {
        match self {
            Self::Staff => "staff",
            Self::Athlete => "athlete",
        }
    }
}

/// Which person an account is.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct ChatLink {
    /// The program.
    pub program: ProgramId,
    /// The account's id.
    pub chat_user: String,
    /// What the person is.
    pub kind: PersonKind,
    /// Who.
    pub person: String,
    /// The number that the code was texted to.
    pub phone: Phone,
    /// Since when.
    pub linked_at: Moment,
    /// Until when.
    pub ended_at: Option<Moment>,
}

/// A one-time code, as a keyed hash.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct ChatCode {
    /// The program.
    pub program: ProgramId,
    /// Keyed hash of the code.
    pub hash: String,
    /// What the person is.
    pub kind: PersonKind,
    /// Whose account it links.
    pub person: String,
    /// The number that it was texted to.
    pub phone: Phone,
    /// When it was made.
    pub made_at: Moment,
    /// Until when it is good.
    pub expires_at: Moment,
    /// When it was used, or replaced by another.
    pub used_at: Option<Moment>,
}

/// Wrong codes of an account.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct ChatTry {
    /// The program.
    pub program: ProgramId,
    /// The account's id.
    pub chat_user: String,
    /// How many.
    pub tries: i64,
    /// Since when.
    pub since: Moment,
}

/// How the platform fares for a program.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct ChatState {
    /// The program.
    pub program: ProgramId,
    /// Until when the platform asked to wait.
    pub next_free_at: Moment,
    /// Since when it refuses everything.
    pub halted_at: Option<Moment>,
    /// Why, and how to mend it.
    pub halted_why: Option<String>,
    /// How the gateway stood last: "ready", or why not.
    pub gateway: Option<String>,
    /// When that was.
    pub gateway_at: Option<Moment>,
}

impl Tx {
    /// Posts that may still change.
    pub async fn chat_live(&mut self, program: &ProgramId) -> Result<Vec<ChatPost>> {
        self.select("WHERE program = $1 AND live ORDER BY created_at, id", args![program]).await
    }

    /// Every post, oldest first.
    pub async fn chat_posts(&mut self, program: &ProgramId) -> Result<Vec<ChatPost>> {
        self.select("WHERE program = $1 ORDER BY created_at, id", args![program]).await
    }

    /// The posts with these keys, locked.
    pub async fn chat_locked(&mut self, program: &ProgramId, ids: &[&str]) -> Result<Vec<ChatPost>> {
        self.select(
            "WHERE program = $1 AND id IN LIST($2) ORDER BY id LOCKED_ROWS",
            args![program, list(ids.iter().copied())],
        )
        .await
    }

    /// The post with this tag.
    pub async fn chat_tagged(&mut self, program: &ProgramId, tag: &str) -> Result<Option<ChatPost>> {
        self.find("WHERE program = $1 AND tag = $2", args![program, tag]).await
    }

    /// Posts that may go now or whose worker was lost, in their order, locked against other workers.
    pub async fn chat_due(&mut self, program: &ProgramId, now: Moment, most: i64) -> Result<Vec<ChatPost>> {
        let mut due: Vec<ChatPost> = self
            .select(
                "WHERE program = $1 AND state = 'claimed' AND lease_until <= $2 ORDER BY due_at, id LIMIT $3 SKIP_LOCKED",
                args![program, now, most],
            )
            .await?;
        let left = most - i64::try_from(due.len()).unwrap_or(most);
        let fresh: Vec<ChatPost> = self
            .select(
                "WHERE program = $1 AND state = 'due' AND due_at <= $2 ORDER BY due_at, created_at, id LIMIT $3 SKIP_LOCKED",
                args![program, now, left],
            )
            .await?;
        due.extend(fresh);
        Ok(due)
    }

    /// Whether a post may go now, or a lease has run out.
    pub async fn chat_ready(&mut self, program: &ProgramId, now: Moment) -> Result<bool> {
        const DUE: &str = "SELECT due_at FROM chat_post WHERE program = $1 AND state = 'due' AND due_at <= $2 LIMIT 1";
        const LEASE: &str =
            "SELECT lease_until FROM chat_post WHERE program = $1 AND state = 'claimed' AND lease_until <= $2 LIMIT 1";
        Ok(!self.numbers(DUE, args![program, now]).await?.is_empty()
            || !self.numbers(LEASE, args![program, now]).await?.is_empty())
    }

    /// When the next post may go, or the next lease runs out.
    pub async fn chat_next(&mut self, program: &ProgramId) -> Result<Option<Moment>> {
        const DUE: &str = "SELECT MIN(due_at) FROM chat_post WHERE program = $1 AND state = 'due' HAVING COUNT(*) > 0";
        const LEASE: &str =
            "SELECT MIN(lease_until) FROM chat_post WHERE program = $1 AND state = 'claimed' HAVING COUNT(*) > 0";
        let due = self.numbers(DUE, args![program]).await?.pop();
        let lease = self.numbers(LEASE, args![program]).await?.pop();
        Ok(due.into_iter().chain(lease).min().map(Moment::from_millis))
    }

    /// What waits in a channel waits until a moment.
    pub async fn chat_channel_waits(&mut self, program: &ProgramId, channel: &str, until: Moment) -> Result<u64> {
        const SQL: &str = "UPDATE chat_post SET due_at = $3 \
            WHERE program = $1 AND channel = $2 AND state = 'due' AND due_at < $3";
        self.execute(SQL, args![program, channel, until]).await
    }

    /// Posts that the platform does not take, with why.
    pub async fn chat_troubled(&mut self, program: &ProgramId) -> Result<Vec<ChatPost>> {
        self.select(
            "WHERE program = $1 AND error IS NOT NULL AND state IN ('due', 'claimed', 'failed') ORDER BY created_at, id",
            args![program],
        )
        .await
    }

    /// The platform's state for a program, locked; made if it is new.
    pub async fn lock_chat_state(&mut self, program: &ProgramId) -> Result<ChatState> {
        const BY_KEY: &str = "WHERE program = $1 LOCKED_ROWS";
        if let Some(row) = self.find(BY_KEY, args![program]).await? {
            return Ok(row);
        }
        let new = ChatState {
            program: program.clone(),
            next_free_at: Moment::from_millis(0),
            halted_at: None,
            halted_why: None,
            gateway: None,
            gateway_at: None,
        };
        self.insert(std::slice::from_ref(&new)).await?;
        Ok(self.find(BY_KEY, args![program]).await?.unwrap_or(new))
    }

    /// The platform's state for a program.
    pub async fn chat_state(&mut self, program: &ProgramId) -> Result<Option<ChatState>> {
        self.find("WHERE program = $1", args![program]).await
    }

    /// Who an account is.
    pub async fn chat_link(&mut self, program: &ProgramId, user: &str) -> Result<Option<ChatLink>> {
        self.find("WHERE program = $1 AND chat_user = $2 AND ended_at IS NULL", args![program, user]).await
    }

    /// Every link that holds, the newest of a person last.
    pub async fn chat_links(&mut self, program: &ProgramId) -> Result<Vec<ChatLink>> {
        self.select("WHERE program = $1 AND ended_at IS NULL ORDER BY linked_at, chat_user", args![program]).await
    }

    /// The links of one person that hold.
    pub async fn chat_links_of(
        &mut self,
        program: &ProgramId,
        kind: PersonKind,
        person: &str,
    ) -> Result<Vec<ChatLink>> {
        self.select(
            "WHERE program = $1 AND kind = $2 AND person = $3 AND ended_at IS NULL ORDER BY linked_at, chat_user",
            args![program, kind.name(), person],
        )
        .await
    }

    /// The code with this hash.
    pub async fn chat_code(&mut self, program: &ProgramId, hash: &str) -> Result<Option<ChatCode>> {
        self.find("WHERE program = $1 AND hash = $2 LOCKED_ROWS", args![program, hash]).await
    }

    /// Makes earlier codes of a person worthless.
    pub async fn chat_codes_end(
        &mut self,
        program: &ProgramId,
        kind: PersonKind,
        person: &str,
        now: Moment,
    ) -> Result<u64> {
        const SQL: &str = "UPDATE chat_code SET used_at = $4 \
            WHERE program = $1 AND kind = $2 AND person = $3 AND used_at IS NULL";
        self.execute(SQL, args![program, kind.name(), person, now]).await
    }

    /// How many codes a person was given since a moment.
    pub async fn chat_codes_since(
        &mut self,
        program: &ProgramId,
        kind: PersonKind,
        person: &str,
        since: Moment,
    ) -> Result<i64> {
        const SQL: &str =
            "SELECT COUNT(*) FROM chat_code WHERE program = $1 AND kind = $2 AND person = $3 AND made_at >= $4";
        Ok(self.numbers(SQL, args![program, kind.name(), person, since]).await?.pop().unwrap_or(0))
    }

    /// Wrong codes of an account.
    pub async fn chat_try(&mut self, program: &ProgramId, user: &str) -> Result<Option<ChatTry>> {
        self.find("WHERE program = $1 AND chat_user = $2 LOCKED_ROWS", args![program, user]).await
    }

    /// Drops a text that a direct message stood for, unless it is under way. Whether it was dropped.
    pub async fn cancel_stood_for(&mut self, program: &ProgramId, id: &str) -> Result<bool> {
        const SQL: &str = "UPDATE outbox SET state = 'cancelled' WHERE program = $1 AND id = $2 AND state = 'due'";
        Ok(self.execute(SQL, args![program, id]).await? > 0)
    }

    /// A text that a direct message stood for goes out now.
    pub async fn hasten_stood_for(&mut self, program: &ProgramId, id: &str, now: Moment) -> Result<u64> {
        const SQL: &str =
            "UPDATE outbox SET due_at = $3 WHERE program = $1 AND id = $2 AND state = 'due' AND due_at > $3";
        self.execute(SQL, args![program, id, now]).await
    }
}
