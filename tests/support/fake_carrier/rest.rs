//! The calls of the REST description: create, list and fetch a message.

use std::sync::Arc;
use std::sync::atomic::Ordering;

use axum::body::Bytes;
use axum::extract::{ConnectInfo, Path, RawQuery, State};
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::{IntoResponse, Response};
use rand_chacha::ChaCha8Rng;
use rand_chacha::rand_core::{Rng as _, SeedableRng as _};
use serde_json::{Value, json};
use url::form_urlencoded::parse as parse_form;

use super::line::Cut;
use super::{Book, Exchange, Fault, Sent, Shared, pause, signed};

impl Shared {
    fn authorised(&self, account: &str, headers: &HeaderMap) -> Result<(), Answer> {
        let given = headers.get(header::AUTHORIZATION).and_then(|value| value.to_str().ok());
        if given != Some(&self.authorization) {
            return Err(refusal(401, 20003, "authentication failed"));
        }
        if account != self.options.account {
            return Err(refusal(404, 20404, "resource was not found"));
        }
        Ok(())
    }

    fn path(&self) -> String {
        format!("/2010-04-01/Accounts/{}/Messages", self.options.account)
    }

    fn record(&self, exchange: impl FnOnce() -> Exchange) {
        if self.options.record {
            let exchange = exchange();
            self.lock().exchanges.push(exchange);
        }
    }

    /// A message in the form of answers.
    fn message(&self, sent: &Sent) -> Value {
        json!({
            "account_sid": self.options.account,
            "api_version": "2010-04-01",
            "body": sent.body,
            "date_created": sent.date_created,
            "date_sent": null,
            "date_updated": sent.date_created,
            "direction": "outbound-api",
            "error_code": null,
            "error_message": null,
            "from": sent.from,
            "messaging_service_sid": null,
            "num_media": "0",
            "num_segments": "0",
            "price": null,
            "price_unit": null,
            "sid": sent.sid,
            "status": sent.status,
            "subresource_uris": {"media": format!("{}/{}/Media.json", self.path(), sent.sid)},
            "to": sent.to,
            "uri": format!("{}/{}.json", self.path(), sent.sid),
        })
    }

    /// Checks a form as the carrier does and takes the message.
    fn take(&self, form: &[(String, String)]) -> Result<Sent, Answer> {
        let field = |name| form.iter().find(|(key, _)| key == name).map_or("", |(_, value)| value.as_str());
        let (from, to, body) = (field("From"), field("To"), field("Body"));
        check_form(from, to, body, field("StatusCallback"), field("ValidityPeriod"))?;
        let date_created = self.options.clock.now().utc().to_rfc2822();
        let mut book = self.lock();
        if let Some(code) = book.refused.get(to) {
            return Err(refusal(400, *code, "refused as told"));
        }
        let index = book.sent.len();
        let sent = Sent {
            sid: format!("SM{:032x}", index + 1),
            from: from.to_owned(),
            to: to.to_owned(),
            body: body.to_owned(),
            form: form.to_vec(),
            status: "queued".to_owned(),
            date_created,
        };
        book.by_sid.insert(sent.sid.clone(), index);
        book.by_pair.entry((sent.to.clone(), sent.from.clone())).or_default().push(index);
        *book.counts.entry((sent.to.clone(), sent.body.clone())).or_default() += 1;
        book.sent.push(sent.clone());
        Ok(sent)
    }

    /// Reports how a message fares, in the background.
    fn call_back(self: &Arc<Self>, sent: &Sent) {
        let url = sent.form.iter().find(|(name, _)| name == "StatusCallback").map(|(_, url)| url.clone());
        let Some(url) = url.filter(|_| self.options.callbacks) else {
            return;
        };
        self.callbacks_under_way.fetch_add(1, Ordering::SeqCst);
        let (shared, sent) = (Arc::clone(self), sent.clone());
        tokio::spawn(async move {
            let code = shared.lock().undelivered.get(&sent.to).copied();
            for status in ["sent", if code.is_some() { "undelivered" } else { "delivered" }] {
                let answer = shared.report(&url, &sent, status, code).await;
                let mut book = shared.lock();
                book.callback_answers.push(answer);
                let index = book.by_sid[&sent.sid];
                status.clone_into(&mut book.sent[index].status);
            }
            shared.callbacks_under_way.fetch_sub(1, Ordering::SeqCst);
        });
    }

    async fn report(&self, url: &str, sent: &Sent, status: &str, code: Option<i64>) -> u16 {
        let mut form = vec![
            ("MessageSid".to_owned(), sent.sid.clone()),
            ("SmsSid".to_owned(), sent.sid.clone()),
            ("AccountSid".to_owned(), self.options.account.clone()),
            ("MessageStatus".to_owned(), status.to_owned()),
            ("SmsStatus".to_owned(), status.to_owned()),
            ("To".to_owned(), sent.to.clone()),
            ("From".to_owned(), sent.from.clone()),
            ("ApiVersion".to_owned(), "2010-04-01".to_owned()),
        ];
        if let Some(code) = code.filter(|_| status == "undelivered") {
            form.push(("ErrorCode".to_owned(), code.to_string()));
        }
        let answer = signed(&self.caller, url, url, &self.options.token, &form).send().await;
        answer.map_or(0, |answer| answer.status().as_u16())
    }
}

impl Book {
    /// A draw from 0 to 1.
    fn draw(&mut self) -> f64 {
        let seed = self.plan.seed;
        let chance = self.chance.get_or_insert_with(|| ChaCha8Rng::seed_from_u64(seed));
        f64::from(chance.next_u32()) / 2_f64.powi(32)
    }

    fn next_create(&mut self) -> Fault {
        self.creates += 1;
        if let Some(fault) = self.script.pop_front() {
            return fault;
        }
        let plan = self.plan;
        let mut left = self.draw();
        let shares = [
            (plan.too_many, Fault::TooMany(Some(1))),
            (plan.error, Fault::Status(500)),
            (plan.error_taken, Fault::TakenStatus(500)),
            (plan.dropped, Fault::Drop),
            (plan.dropped_taken, Fault::TakenDrop),
        ];
        for (share, fault) in shares {
            if left < share {
                return fault;
            }
            left -= share;
        }
        Fault::None
    }

    fn next_list(&mut self) -> Fault {
        self.lists += 1;
        if let Some(fault) = self.list_script.pop_front() {
            return fault;
        }
        if self.draw() < self.plan.list_error { Fault::Status(503) } else { Fault::None }
    }
}

/// An answer before it goes out.
struct Answer {
    status: u16,
    body: Value,
    retry_after: Option<u64>,
}

impl Answer {
    fn good(status: u16, body: Value) -> Self {
        Self { status, body, retry_after: None }
    }
}

impl IntoResponse for Answer {
    fn into_response(self) -> Response {
        let status = StatusCode::from_u16(self.status).expect("a status");
        let mut response =
            (status, [(header::CONTENT_TYPE, "application/json")], self.body.to_string()).into_response();
        if let Some(seconds) = self.retry_after {
            response.headers_mut().insert(header::RETRY_AFTER, seconds.into());
        }
        response
    }
}

fn refusal(status: u16, code: i64, message: &str) -> Answer {
    let more = format!("https://carrier.example/errors/{code}");
    Answer::good(status, json!({"code": code, "message": message, "more_info": more, "status": status}))
}

/// The answer of a fault that lets nothing through.
fn failure(status: u16, retry_after: Option<u64>) -> Answer {
    let answer = refusal(status, 20000 + i64::from(status), "failed as told");
    Answer { retry_after, ..answer }
}

fn check_form(from: &str, to: &str, body: &str, callback: &str, validity: &str) -> Result<(), Answer> {
    let digits = to.strip_prefix('+').unwrap_or_default();
    let valid = (7..=15).contains(&digits.len()) && digits.bytes().all(|byte| byte.is_ascii_digit());
    let refused = if to.is_empty() {
        Some((21604, "To is required"))
    } else if from.is_empty() {
        Some((21603, "From is required"))
    } else if !valid {
        Some((21211, "To is not a valid phone number"))
    } else if body.is_empty() {
        Some((21602, "Body is required"))
    } else if body.chars().count() > 1600 {
        Some((21617, "Body is over the length limit"))
    } else if !callback.is_empty() && !callback.starts_with("http") {
        Some((21609, "StatusCallback is not a valid URL"))
    } else if !validity.is_empty() && !validity.parse().is_ok_and(|seconds| (1..=36_000).contains(&seconds)) {
        Some((99_400, "ValidityPeriod is out of range"))
    } else {
        None
    };
    refused.map_or(Ok(()), |(code, message)| Err(refusal(400, code, message)))
}

pub async fn create(
    State(shared): State<Arc<Shared>>,
    ConnectInfo(cut): ConnectInfo<Cut>,
    Path(account): Path<String>,
    headers: HeaderMap,
    body: Bytes,
) -> Response {
    let (fault, latency) = {
        let mut book = shared.lock();
        (book.next_create(), book.latency)
    };
    if !latency.is_zero() {
        pause(latency).await;
    }
    let form: Vec<(String, String)> = parse_form(&body).into_owned().collect();
    let answer = match fault {
        Fault::Drop => return cut.answer(),
        Fault::TooMany(seconds) => failure(429, seconds),
        Fault::Status(status) => failure(status, None),
        _ => taken(&shared, &account, &headers, &form),
    };
    match fault {
        Fault::TakenDrop => return cut.answer(),
        Fault::TakenSlow(time) => pause(time).await,
        _ => {}
    }
    let answer = match fault {
        Fault::TakenStatus(status) => failure(status, None),
        _ => answer,
    };
    shared.record(|| Exchange {
        method: "POST",
        path: format!("/2010-04-01/Accounts/{account}/Messages.json"),
        query: Vec::new(),
        form,
        status: answer.status,
        answer: answer.body.clone(),
    });
    answer.into_response()
}

fn taken(shared: &Arc<Shared>, account: &str, headers: &HeaderMap, form: &[(String, String)]) -> Answer {
    let taken = shared.authorised(account, headers).and_then(|()| shared.take(form));
    match taken {
        Ok(sent) => {
            shared.call_back(&sent);
            Answer::good(201, shared.message(&sent))
        }
        Err(refused) => refused,
    }
}

pub async fn list(
    State(shared): State<Arc<Shared>>,
    ConnectInfo(cut): ConnectInfo<Cut>,
    Path(account): Path<String>,
    RawQuery(query): RawQuery,
    headers: HeaderMap,
) -> Response {
    let (fault, latency) = {
        let mut book = shared.lock();
        (book.next_list(), book.latency)
    };
    if !latency.is_zero() {
        pause(latency).await;
    }
    let query: Vec<(String, String)> = parse_form(query.unwrap_or_default().as_bytes()).into_owned().collect();
    let answer = match fault {
        Fault::Drop | Fault::TakenDrop => return cut.answer(),
        Fault::TooMany(seconds) => failure(429, seconds),
        Fault::Status(status) | Fault::TakenStatus(status) => failure(status, None),
        Fault::None | Fault::TakenSlow(_) => {
            let page = shared.authorised(&account, &headers).and_then(|()| page(&shared, &query));
            page.map_or_else(|refused| refused, |page| Answer::good(200, page))
        }
    };
    shared.record(|| Exchange {
        method: "GET",
        path: format!("/2010-04-01/Accounts/{account}/Messages.json"),
        query,
        form: Vec::new(),
        status: answer.status,
        answer: answer.body.clone(),
    });
    answer.into_response()
}

/// One page of a list, newest first. A filter that this stand-in does not know is refused, not passed over.
fn page(shared: &Shared, query: &[(String, String)]) -> Result<Value, Answer> {
    let (mut to, mut from, mut size, mut number) = (None, None, 50_usize, 0_usize);
    for (name, value) in query {
        match name.as_str() {
            "To" => to = Some(value.as_str()),
            "From" => from = Some(value.as_str()),
            "PageSize" => size = value.parse().unwrap_or_default(),
            "Page" => number = value.parse().unwrap_or_default(),
            "PageToken" => {}
            _ => {
                return Err(refusal(400, 99_400, "a filter that this stand-in does not know"));
            }
        }
    }
    if !(1..=1000).contains(&size) {
        return Err(refusal(400, 99_400, "PageSize is out of range"));
    }
    let book = shared.lock();
    let indices: Vec<usize> = match (to, from) {
        (Some(to), Some(from)) => book.by_pair.get(&(to.to_owned(), from.to_owned())).cloned().unwrap_or_default(),
        _ => (0..book.sent.len())
            .filter(|index| to.is_none_or(|to| book.sent[*index].to == to))
            .filter(|index| from.is_none_or(|from| book.sent[*index].from == from))
            .collect(),
    };
    let start = number * size;
    let shown: Vec<Value> =
        indices.iter().rev().skip(start).take(size).map(|index| shared.message(&book.sent[*index])).collect();
    let uri = |number: usize| {
        let mut query_text = url::form_urlencoded::Serializer::new(String::new());
        query_text
            .extend_pairs([("To", to), ("From", from)].into_iter().filter_map(|(name, value)| Some((name, value?))));
        query_text.append_pair("PageSize", &size.to_string()).append_pair("Page", &number.to_string());
        format!("{}.json?{}", shared.path(), query_text.finish())
    };
    let next = (start + shown.len() < indices.len()).then(|| uri(number + 1));
    Ok(json!({
        "first_page_uri": uri(0),
        "next_page_uri": next,
        "previous_page_uri": number.checked_sub(1).map(uri),
        "page": number,
        "page_size": size,
        "start": start,
        "end": (start + shown.len()).saturating_sub(1),
        "uri": uri(number),
        "messages": shown,
    }))
}

pub async fn fetch(
    State(shared): State<Arc<Shared>>,
    Path((account, file)): Path<(String, String)>,
    headers: HeaderMap,
) -> Response {
    let sid = file.strip_suffix(".json").unwrap_or_default();
    let found = shared.authorised(&account, &headers).and_then(|()| {
        let book = shared.lock();
        let index = book.by_sid.get(sid).ok_or_else(|| refusal(404, 20404, "resource was not found"))?;
        Ok(Answer::good(200, shared.message(&book.sent[*index])))
    });
    let answer = found.unwrap_or_else(|refused| refused);
    shared.record(|| Exchange {
        method: "GET",
        path: format!("/2010-04-01/Accounts/{account}/Messages/{file}"),
        query: Vec::new(),
        form: Vec::new(),
        status: answer.status,
        answer: answer.body.clone(),
    });
    answer.into_response()
}
