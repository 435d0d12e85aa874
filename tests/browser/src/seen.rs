//! What a page complained of, and what it asked for.

use crate::page::said;
use crate::protocol::Event;
use serde_json::Value;

/// What went on in a page.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Seen {
    /// Errors, exceptions, violated policies: none in a page that is in order.
    pub complaints: Vec<Complaint>,
    /// Every address asked for, in order, redirects too. Not seen: what a worker asks for, a page in another window, and a
    /// `preconnect`, which opens a connection without asking for anything.
    pub requests: Vec<Request>,
}

/// Something that a browser's console would show as an error or a warning.
#[derive(Clone, Debug, PartialEq)]
pub enum Complaint {
    /// `console.error`, a failed `console.assert`, or `console.warn`.
    Console(String),
    /// An exception that nothing caught, a promise's too.
    Uncaught(String),
    /// What the content security policy forbade: the directive, and what was blocked.
    Policy(String),
    /// Anything else that Chromium logs as an error or a warning, such as a file that wasn't loaded.
    Log(String),
    /// A dialog (`alert`, say); it was accepted.
    Dialog(String),
}

/// An address that was asked for.
#[derive(Clone, Debug, PartialEq)]
pub struct Request {
    /// The whole address; of a `data:` address the first 64 characters.
    pub url: String,
    /// What for, in the protocol's words: `Document`, `Stylesheet`, `Script`, `Image`, `Font`, `Fetch`, `Other` …
    pub kind: String,
    /// What came of it.
    pub outcome: Outcome,
}

/// What came of a request.
#[derive(Clone, Debug, PartialEq)]
pub enum Outcome {
    /// Nothing yet.
    Pending,
    /// An answer, with its HTTP status; 0 for one that has none, such as a file's, and for a redirect the redirect's.
    Answered(u16),
    /// None, and why: `net::ERR_NAME_NOT_RESOLVED`, `csp` …
    Failed(String),
}

impl Seen {
    /// The addresses asked for that don't start with `allowed`; `data:` and `blob:` aside, which ask nobody.
    #[must_use]
    pub fn requests_beyond(&self, allowed: &str) -> Vec<&str> {
        let urls = self.requests.iter().map(|it| it.url.as_str());
        urls.filter(|it| {
            !it.starts_with(allowed) && !it.starts_with("data:") && !it.starts_with("blob:")
        })
        .collect()
    }

    /// The requests without a good answer: failed, refused (from 400), or still without one.
    #[must_use]
    pub fn failed_requests(&self) -> Vec<&Request> {
        let good = |it: &Request| matches!(it.outcome, Outcome::Answered(status) if status < 400);
        self.requests.iter().filter(|it| !good(it)).collect()
    }
}

/// Notes events as they come.
#[derive(Debug, Default)]
pub(crate) struct Watch {
    seen: Seen,
    /// The protocol's identity of each request; a redirect keeps that of the request it answers.
    ids: Vec<String>,
}

impl Watch {
    pub(crate) fn seen(&self) -> Seen {
        self.seen.clone()
    }

    pub(crate) fn is_idle(&self) -> bool {
        !self
            .seen
            .requests
            .iter()
            .any(|it| it.outcome == Outcome::Pending)
    }

    pub(crate) fn note(&mut self, event: &Event) {
        let Event { method, params } = event;
        match method.as_str() {
            "Runtime.consoleAPICalled" if is_bad_news(&params["type"]) => {
                self.complain(Complaint::Console(console_text(params)));
            }
            "Runtime.exceptionThrown" => {
                let text = said(&params["exceptionDetails"]).to_owned();
                self.complain(Complaint::Uncaught(text));
            }
            "Log.entryAdded" => self.note_log(&params["entry"]),
            "Audits.issueAdded" => self.note_issue(&params["issue"]),
            "Page.javascriptDialogOpening" => {
                self.complain(Complaint::Dialog(text(&params["message"])));
            }
            "Network.requestWillBeSent" => self.note_request(params),
            "Network.responseReceived" => {
                let answer = Outcome::Answered(status(&params["response"]));
                self.settle(&params["requestId"], answer);
            }
            "Network.loadingFailed" => {
                let reason = params["blockedReason"].as_str().unwrap_or_default();
                let reason = if reason.is_empty() {
                    &params["errorText"]
                } else {
                    &params["blockedReason"]
                };
                self.settle(&params["requestId"], Outcome::Failed(text(reason)));
            }
            // A file of no length, say, may end without an answer's head.
            "Network.loadingFinished" if self.is_pending(&params["requestId"]) => {
                self.settle(&params["requestId"], Outcome::Answered(0));
            }
            _ => {}
        }
    }

    fn complain(&mut self, complaint: Complaint) {
        self.seen.complaints.push(complaint);
    }

    fn note_log(&mut self, entry: &Value) {
        // Policies are noted from the issue, which has the parts.
        let is_policy = entry["source"] == "security"
            && text(&entry["text"]).contains("Content Security Policy");
        if (entry["level"] == "error" || entry["level"] == "warning") && !is_policy {
            let place = entry["url"].as_str().unwrap_or_default();
            let text = format!("{} {place}", text(&entry["text"]));
            self.complain(Complaint::Log(text.trim_end().to_owned()));
        }
    }

    fn note_issue(&mut self, issue: &Value) {
        let details = &issue["details"]["contentSecurityPolicyIssueDetails"];
        if details.is_object() {
            let blocked = details["blockedURL"].as_str();
            let blocked =
                blocked.or_else(|| details["contentSecurityPolicyViolationType"].as_str());
            let text = format!(
                "{}: {}",
                text(&details["violatedDirective"]),
                blocked.unwrap_or("?")
            );
            self.complain(Complaint::Policy(text));
        }
    }

    fn note_request(&mut self, params: &Value) {
        if let Some(redirect) = params.get("redirectResponse") {
            self.settle(&params["requestId"], Outcome::Answered(status(redirect)));
        }
        let mut url = text(&params["request"]["url"]);
        if url.starts_with("data:") {
            url = url.chars().take(64).collect();
        }
        self.ids.push(text(&params["requestId"]));
        self.seen.requests.push(Request {
            url,
            kind: text(&params["type"]),
            outcome: Outcome::Pending,
        });
    }

    fn is_pending(&self, id: &Value) -> bool {
        let last = self.ids.iter().rposition(|it| id == it.as_str());
        last.is_some_and(|it| self.seen.requests[it].outcome == Outcome::Pending)
    }

    fn settle(&mut self, id: &Value, outcome: Outcome) {
        if let Some(last) = self.ids.iter().rposition(|it| id == it.as_str()) {
            self.seen.requests[last].outcome = outcome;
        }
    }
}

fn text(value: &Value) -> String {
    value.as_str().unwrap_or_default().to_owned()
}

fn status(response: &Value) -> u16 {
    let status = response["status"].as_u64().unwrap_or(0);
    u16::try_from(status).unwrap_or(u16::MAX)
}

fn is_bad_news(kind: &Value) -> bool {
    ["error", "assert", "warning"].iter().any(|it| kind == it)
}

fn console_text(params: &Value) -> String {
    let parts = params["args"]
        .as_array()
        .map(Vec::as_slice)
        .unwrap_or_default();
    let parts = parts
        .iter()
        .map(|it| match (&it["value"], &it["description"]) {
            (Value::String(it), _) | (Value::Null, Value::String(it)) => it.clone(),
            (it, _) => it.to_string(),
        });
    parts.collect::<Vec<_>>().join(" ")
}
