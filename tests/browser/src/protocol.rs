//! The Chrome `DevTools` Protocol: calls, their answers, and events in between.

use anyhow::{Context, Result, bail};
use serde_json::{Value, json};
use std::collections::VecDeque;
use std::io::ErrorKind;
use std::net::TcpStream;
use std::time::{Duration, Instant};
use tungstenite::protocol::WebSocketConfig;
use tungstenite::{Message, WebSocket};

/// The longest that anything is waited for, unless a page is given another time.
pub const DEADLINE: Duration = Duration::from_secs(20);

/// What the browser says of its own accord.
#[derive(Clone, Debug)]
pub(crate) struct Event {
    pub(crate) method: String,
    pub(crate) params: Value,
}

/// A connection to the browser, or to one page of it.
#[derive(Debug)]
pub(crate) struct Connection {
    socket: WebSocket<TcpStream>,
    /// The longest that an answer is waited for.
    pub(crate) patience: Duration,
    last_call: u64,
    events: VecDeque<Event>,
}

impl Connection {
    /// Connects to a path of the browser's own port on the loopback.
    pub(crate) fn open(port: u16, path: &str) -> Result<Self> {
        let stream = TcpStream::connect(("127.0.0.1", port))
            .with_context(|| format!("no connection to Chromium's port {port}"))?;
        stream.set_nodelay(true)?;
        stream.set_read_timeout(Some(DEADLINE))?;
        stream.set_write_timeout(Some(DEADLINE))?;
        // Pictures and documents come as one message.
        let config = WebSocketConfig::default()
            .max_message_size(None)
            .max_frame_size(None);
        let url = format!("ws://127.0.0.1:{port}{path}");
        let (socket, _) = tungstenite::client::client_with_config(url, stream, Some(config))
            .map_err(|it| anyhow::anyhow!("Chromium refused {path}: {it}"))?;
        Ok(Self {
            socket,
            patience: DEADLINE,
            last_call: 0,
            events: VecDeque::new(),
        })
    }

    /// Calls a method and waits for its answer; events that come first are kept.
    ///
    /// # Errors
    /// If the browser refuses, says nothing in time, or is gone.
    pub(crate) fn call(&mut self, method: &str, params: Value) -> Result<Value> {
        let id = self.send(method, params)?;
        let end = Instant::now() + self.patience;
        while let Some(message) = self.read(end)? {
            if message["id"] != id {
                self.keep(message)?;
            } else if let Some(error) = message.get("error") {
                bail!("{method}: {}", error["message"].as_str().unwrap_or("?"));
            } else {
                return Ok(message["result"].clone());
            }
        }
        bail!(
            "{method}: no answer within {} s",
            self.patience.as_secs_f64()
        )
    }

    /// The next event, if one comes by `end`.
    pub(crate) fn event(&mut self, end: Instant) -> Result<Option<Event>> {
        while self.events.is_empty() {
            let Some(message) = self.read(end)? else {
                return Ok(None);
            };
            self.keep(message)?;
        }
        Ok(self.events.pop_front())
    }

    /// Calls a method whose answer nobody waits for.
    pub(crate) fn send(&mut self, method: &str, params: Value) -> Result<u64> {
        self.last_call += 1;
        let message = json!({"id": self.last_call, "method": method, "params": params});
        self.socket
            .send(Message::text(message.to_string()))
            .with_context(|| format!("{method}: Chromium is gone"))?;
        Ok(self.last_call)
    }

    /// Keeps an event. A dialog stops all scripts, and with them any later call, until it is answered: it is, at once.
    fn keep(&mut self, message: Value) -> Result<()> {
        let Some(method) = message["method"].as_str() else {
            return Ok(()); // The answer to a call that nobody waits for.
        };
        if method == "Page.javascriptDialogOpening" {
            self.send("Page.handleJavaScriptDialog", json!({"accept": true}))?;
        }
        self.events.push_back(Event {
            method: method.to_owned(),
            params: message["params"].clone(),
        });
        Ok(())
    }

    fn read(&mut self, end: Instant) -> Result<Option<Value>> {
        loop {
            let left = end.saturating_duration_since(Instant::now());
            if left.is_zero() {
                return Ok(None);
            }
            self.socket.get_ref().set_read_timeout(Some(left))?;
            match self.socket.read() {
                Ok(Message::Text(text)) => {
                    return serde_json::from_str(&text)
                        .context("Chromium sent something that is not JSON")
                        .map(Some);
                }
                Ok(Message::Close(_)) => bail!("Chromium closed the connection"),
                Ok(_) => {}
                Err(tungstenite::Error::Io(it))
                    if matches!(it.kind(), ErrorKind::WouldBlock | ErrorKind::TimedOut) =>
                {
                    return Ok(None);
                }
                Err(it) => return Err(it).context("Chromium is gone"),
            }
        }
    }
}
