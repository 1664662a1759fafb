//! What notices to families ask: guardians of athletes, what they were told, e-mail, consent by text.

use chrono::NaiveDate;

use super::{athletes, phones};
use crate::store::rows::Mail;
use crate::store::{Result, Tx, list};
use crate::trade::notice::{Address, ConsentAsk, FamilyChoice, Notice};
use crate::trade::phone::Phone;
use crate::trade::roster::{Athlete, AthleteId, Consent, Guardian, GuardianId, Guardianship, ProgramId};
use crate::trade::time::Moment;

impl Tx {
    /// Who answers for these athletes.
    pub async fn guardianships_of<'a>(
        &mut self,
        program: &ProgramId,
        of: impl IntoIterator<Item = &'a AthleteId>,
    ) -> Result<Vec<Guardianship>> {
        self.select("WHERE program = $1 AND athlete IN LIST($2) ORDER BY guardian", args![program, athletes(of)]).await
    }

    /// These guardians.
    pub async fn guardians_named<'a>(
        &mut self,
        program: &ProgramId,
        named: impl IntoIterator<Item = &'a GuardianId>,
    ) -> Result<Vec<Guardian>> {
        let named = list(named.into_iter().map(GuardianId::as_str));
        self.select("WHERE program = $1 AND id IN LIST($2) ORDER BY id", args![program, named]).await
    }

    /// Guardians with one of these e-mail addresses.
    pub async fn guardians_at_address(&mut self, program: &ProgramId, at: &[&str]) -> Result<Vec<Guardian>> {
        self.select("WHERE program = $1 AND email IN LIST($2) ORDER BY id", args![program, list(at.iter().copied())])
            .await
    }

    /// Consents for these numbers.
    pub async fn consents_at<'a>(
        &mut self,
        program: &ProgramId,
        at: impl IntoIterator<Item = &'a Phone>,
    ) -> Result<Vec<Consent>> {
        self.select("WHERE program = $1 AND phone IN LIST($2)", args![program, phones(at)]).await
    }

    /// Notices about these athletes since a moment.
    pub async fn notices_of<'a>(
        &mut self,
        program: &ProgramId,
        of: impl IntoIterator<Item = &'a AthleteId>,
        since: Moment,
    ) -> Result<Vec<Notice>> {
        self.select(
            "WHERE program = $1 AND athlete IN LIST($2) AND made_at >= $3 ORDER BY made_at, id",
            args![program, athletes(of), since],
        )
        .await
    }

    /// Notices texted to these numbers since a moment.
    pub async fn notices_at<'a>(
        &mut self,
        program: &ProgramId,
        at: impl IntoIterator<Item = &'a Phone>,
        since: Moment,
    ) -> Result<Vec<Notice>> {
        self.select(
            "WHERE program = $1 AND phone IN LIST($2) AND made_at >= $3 ORDER BY made_at, id",
            args![program, phones(at), since],
        )
        .await
    }

    /// Notices mailed to these addresses that wait for an answer.
    pub async fn notices_mailed(&mut self, program: &ProgramId, to: &[&str]) -> Result<Vec<Notice>> {
        self.select(
            "WHERE program = $1 AND email IN LIST($2) AND state IN ('told', 'again') ORDER BY made_at, id",
            args![program, list(to.iter().copied())],
        )
        .await
    }

    /// Notices with these keys.
    pub async fn notices_keyed(&mut self, program: &ProgramId, keys: &[&str]) -> Result<Vec<Notice>> {
        self.select("WHERE program = $1 AND id IN LIST($2)", args![program, list(keys.iter().copied())]).await
    }

    /// Notices for which a person was to call by one of these items.
    pub async fn notices_by_item(&mut self, program: &ProgramId, items: &[&str]) -> Result<Vec<Notice>> {
        self.select("WHERE program = $1 AND item IN LIST($2)", args![program, list(items.iter().copied())]).await
    }

    /// Notices of which a next step is due some time.
    pub async fn notices_waiting(&mut self, program: &ProgramId) -> Result<Vec<Notice>> {
        self.select("WHERE program = $1 AND next_at IS NOT NULL ORDER BY next_at, id", args![program]).await
    }

    /// A guardian's notices since a moment.
    pub async fn notices_to(&mut self, program: &ProgramId, to: &GuardianId, since: Moment) -> Result<Vec<Notice>> {
        self.select(
            "WHERE program = $1 AND guardian = $2 AND made_at >= $3 ORDER BY made_at, id",
            args![program, to.as_str(), since],
        )
        .await
    }

    /// All notices since a moment, the newest first.
    pub async fn notices_since(&mut self, program: &ProgramId, since: Moment) -> Result<Vec<Notice>> {
        self.select("WHERE program = $1 AND made_at >= $2 ORDER BY made_at DESC, id LIMIT 500", args![program, since])
            .await
    }

    /// Drops these messages, texts and e-mails, as far as they are still queued.
    pub async fn drop_messages(&mut self, program: &ProgramId, keys: &[&str]) -> Result<()> {
        const TEXTS: &str =
            "UPDATE outbox SET state = 'cancelled' WHERE program = $1 AND id IN LIST($2) AND state = 'due'";
        const MAILS: &str =
            "UPDATE mail SET state = 'cancelled' WHERE program = $1 AND id IN LIST($2) AND state = 'due'";
        self.execute(TEXTS, args![program, list(keys.iter().copied())]).await?;
        self.execute(MAILS, args![program, list(keys.iter().copied())]).await?;
        Ok(())
    }

    /// Drops every e-mail that is queued for an address.
    pub async fn drop_mail_to(&mut self, program: &ProgramId, address: &str) -> Result<u64> {
        const SQL: &str = "UPDATE mail SET state = 'cancelled' WHERE program = $1 AND address = $2 AND state = 'due'";
        self.execute(SQL, args![program, address]).await
    }

    /// What is known of these addresses.
    pub async fn addresses(&mut self, program: &ProgramId, of: &[&str]) -> Result<Vec<Address>> {
        self.select("WHERE program = $1 AND address IN LIST($2)", args![program, list(of.iter().copied())]).await
    }

    /// Every address that was withdrawn or is in trouble.
    pub async fn addresses_stopped(&mut self, program: &ProgramId) -> Result<Vec<Address>> {
        self.select(
            "WHERE program = $1 AND (withdrawn_at IS NOT NULL OR trouble IS NOT NULL) ORDER BY address",
            args![program],
        )
        .await
    }

    /// What athletes of age decided, of these.
    pub async fn family_choices<'a>(
        &mut self,
        program: &ProgramId,
        of: impl IntoIterator<Item = &'a AthleteId>,
    ) -> Result<Vec<FamilyChoice>> {
        self.select("WHERE program = $1 AND athlete IN LIST($2)", args![program, athletes(of)]).await
    }

    /// Active athletes born on a day or before, with a guardian on file, who were neither asked nor have said.
    pub async fn of_age_and_not_asked(&mut self, program: &ProgramId, born: NaiveDate) -> Result<Vec<Athlete>> {
        self.select(
            "WHERE program = $1 AND active AND born <= $2 \
             AND id IN (SELECT athlete FROM guardianship WHERE program = $1) \
             AND id NOT IN (SELECT athlete FROM family_choice WHERE program = $1) ORDER BY id",
            args![program, born],
        )
        .await
    }

    /// Questions for consent that went to these numbers.
    pub async fn consent_asks_at<'a>(
        &mut self,
        program: &ProgramId,
        at: impl IntoIterator<Item = &'a Phone>,
    ) -> Result<Vec<ConsentAsk>> {
        self.select("WHERE program = $1 AND asked IN LIST($2)", args![program, phones(at)]).await
    }

    /// Every question for consent.
    pub async fn all_consent_asks(&mut self, program: &ProgramId) -> Result<Vec<ConsentAsk>> {
        self.select("WHERE program = $1 ORDER BY asked_at, person", args![program]).await
    }

    /// E-mails that may go now, or whose worker has not been heard of, locked against other workers.
    pub async fn mail_due(&mut self, program: &ProgramId, now: Moment, most: i64) -> Result<Vec<Mail>> {
        self.select(
            "WHERE program = $1 AND ((state = 'due' AND due_at <= $2) OR (state = 'claimed' AND lease_until <= $2)) \
             ORDER BY due_at, id LIMIT $3 SKIP_LOCKED",
            args![program, now, most],
        )
        .await
    }

    /// E-mails that this worker still has.
    pub async fn mail_claimed(&mut self, program: &ProgramId, worker: &str, ids: &[&str]) -> Result<Vec<Mail>> {
        self.select(
            "WHERE program = $1 AND id IN LIST($2) AND state = 'claimed' AND claimed_by = $3 LOCKED_ROWS",
            args![program, list(ids.iter().copied()), worker],
        )
        .await
    }

    /// E-mails with these keys.
    pub async fn mail_keyed(&mut self, program: &ProgramId, keys: &[&str]) -> Result<Vec<Mail>> {
        self.select("WHERE program = $1 AND id IN LIST($2)", args![program, list(keys.iter().copied())]).await
    }

    /// When the next e-mail is due.
    pub async fn mail_next(&mut self, program: &ProgramId) -> Result<Option<Moment>> {
        const SQL: &str = "SELECT MIN(CASE WHEN state = 'due' THEN due_at ELSE lease_until END) FROM mail \
            WHERE program = $1 AND state IN ('due', 'claimed') HAVING COUNT(*) > 0";
        Ok(self.numbers(SQL, args![program]).await?.pop().map(Moment::from_millis))
    }
}
