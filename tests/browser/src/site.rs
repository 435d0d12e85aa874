//! A folder as a web site on the loopback.

use anyhow::{Context, Result};
use std::fs;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::{SocketAddr, TcpListener, TcpStream};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::{self, JoinHandle};
use std::time::Duration;

/// Serves the files of a folder at 127.0.0.1, on a port of its own, until it is dropped.
///
/// GET and HEAD only. A folder's address gives its `index.html`. Nothing outside the folder is served, by no link either.
#[derive(Debug)]
pub struct Site {
    address: SocketAddr,
    ends: Arc<AtomicBool>,
    accepting: Option<JoinHandle<()>>,
}

/// An answer: status line, headers of its own, body.
type Answer = (&'static str, String, Vec<u8>);

impl Site {
    /// Serves a folder.
    ///
    /// # Errors
    /// If there is no such folder, or no port.
    pub fn serve(folder: impl AsRef<Path>) -> Result<Self> {
        let folder = folder.as_ref();
        let root = folder
            .canonicalize()
            .with_context(|| format!("{} is not served", folder.display()))?;
        let listener = TcpListener::bind(("127.0.0.1", 0))?;
        let address = listener.local_addr()?;
        let ends = Arc::new(AtomicBool::new(false));
        let accepting = thread::spawn({
            let ends = Arc::clone(&ends);
            move || {
                for stream in listener.incoming().flatten() {
                    if ends.load(Ordering::SeqCst) {
                        break;
                    }
                    let root = root.clone();
                    // A browser that turns away mid-answer is no error.
                    thread::spawn(move || talk(&stream, &root).ok());
                }
            }
        });
        Ok(Self {
            address,
            ends,
            accepting: Some(accepting),
        })
    }

    /// The address of a file of the folder; of `""`, the site's own, with the slash at its end.
    #[must_use]
    pub fn url(&self, path: &str) -> String {
        format!("http://{}/{path}", self.address)
    }
}

impl Drop for Site {
    fn drop(&mut self) {
        self.ends.store(true, Ordering::SeqCst);
        // Wakes the thread that waits for a connection.
        TcpStream::connect(self.address).ok();
        if let Some(it) = self.accepting.take() {
            it.join().ok();
        }
    }
}

fn talk(mut stream: &TcpStream, root: &Path) -> Result<()> {
    stream.set_read_timeout(Some(Duration::from_secs(5)))?;
    stream.set_write_timeout(Some(Duration::from_secs(5)))?;
    let mut lines = BufReader::new(stream.take(16_384)).lines();
    let request = lines.next().context("no request")??;
    // The headers say nothing that a file needs.
    for line in lines {
        if line?.is_empty() {
            break;
        }
    }
    let mut words = request.split(' ');
    let (method, target) = (words.next().unwrap_or(""), words.next().unwrap_or(""));
    let (status, headers, body) = answer(root, method, target);
    write!(
        stream,
        "HTTP/1.1 {status}\r\nContent-Length: {}\r\nConnection: close\r\nCache-Control: no-store\r\n\
         X-Content-Type-Options: nosniff\r\n{headers}\r\n",
        body.len()
    )?;
    if method != "HEAD" {
        stream.write_all(&body)?;
    }
    Ok(())
}

fn answer(root: &Path, method: &str, target: &str) -> Answer {
    let plain = |status| {
        (
            status,
            "Content-Type: text/plain\r\n".to_owned(),
            Vec::new(),
        )
    };
    if method != "GET" && method != "HEAD" {
        let (status, headers, body) = plain("405 Method Not Allowed");
        return (status, headers + "Allow: GET, HEAD\r\n", body);
    }
    let path = target.split(['?', '#']).next().unwrap_or("");
    let Some(file) = file_of(root, path) else {
        return plain("404 Not Found");
    };
    if file.is_dir() {
        if !path.ends_with('/') {
            return (
                "301 Moved Permanently",
                format!("Location: {path}/\r\n"),
                Vec::new(),
            );
        }
        return answer(root, method, &format!("{path}index.html"));
    }
    match fs::read(&file) {
        Ok(body) => (
            "200 OK",
            format!("Content-Type: {}\r\n", content_type(&file)),
            body,
        ),
        Err(_) => plain("404 Not Found"),
    }
}

/// The file of a path, if it is in the folder: links are followed before that is judged.
fn file_of(root: &Path, path: &str) -> Option<PathBuf> {
    let name = percent_decode(path.strip_prefix('/')?)?;
    let file = root
        .join(name.trim_start_matches('/'))
        .canonicalize()
        .ok()?;
    file.starts_with(root).then_some(file)
}

fn percent_decode(text: &str) -> Option<String> {
    let mut bytes = Vec::with_capacity(text.len());
    let mut rest = text.bytes();
    while let Some(byte) = rest.next() {
        bytes.push(match byte {
            b'%' => {
                let digit = |it: Option<u8>| char::from(it?).to_digit(16);
                u8::try_from(16 * digit(rest.next())? + digit(rest.next())?).ok()?
            }
            it => it,
        });
    }
    String::from_utf8(bytes).ok()
}

fn content_type(file: &Path) -> &'static str {
    match file.extension().and_then(|it| it.to_str()).unwrap_or("") {
        "html" => "text/html; charset=utf-8",
        "css" => "text/css; charset=utf-8",
        "js" | "mjs" => "text/javascript; charset=utf-8",
        "json" => "application/json",
        "webmanifest" => "application/manifest+json",
        "csv" => "text/csv; charset=utf-8",
        "txt" => "text/plain; charset=utf-8",
        "xml" => "application/xml",
        "svg" => "image/svg+xml",
        "png" => "image/png",
        "jpg" | "jpeg" => "image/jpeg",
        "webp" => "image/webp",
        "avif" => "image/avif",
        "ico" => "image/x-icon",
        "woff2" => "font/woff2",
        "pdf" => "application/pdf",
        _ => "application/octet-stream",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ask(site: &Site, request: &str) -> String {
        let mut stream = TcpStream::connect(site.address).unwrap();
        write!(stream, "{request} HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n").unwrap();
        let mut answer = String::new();
        stream.read_to_string(&mut answer).unwrap();
        answer
    }

    #[test]
    fn files_of_the_folder_and_no_others() {
        let outer = tempfile::tempdir().unwrap();
        let folder = outer.path().join("site");
        fs::create_dir_all(folder.join("ochre and lime")).unwrap();
        fs::write(outer.path().join("secret.txt"), "secret").unwrap();
        fs::write(folder.join("ochre and lime/index.html"), "<p>Ochre").unwrap();
        std::os::unix::fs::symlink(outer.path().join("secret.txt"), folder.join("link.txt"))
            .unwrap();
        let site = Site::serve(&folder).unwrap();

        let page = ask(&site, "GET /ochre%20and%20lime/?x=1");
        assert!(page.starts_with("HTTP/1.1 200 OK"), "{page}");
        assert!(
            page.contains("Content-Type: text/html; charset=utf-8"),
            "{page}"
        );
        assert!(page.ends_with("\r\n\r\n<p>Ochre"), "{page}");
        let head = ask(&site, "HEAD /ochre%20and%20lime/index.html");
        assert!(
            head.contains("Content-Length: 8") && head.ends_with("\r\n\r\n"),
            "{head}"
        );
        let folder = ask(&site, "GET /ochre%20and%20lime");
        assert!(
            folder.starts_with("HTTP/1.1 301")
                && folder.contains("Location: /ochre%20and%20lime/\r\n"),
            "{folder}"
        );
        assert!(ask(&site, "POST /").starts_with("HTTP/1.1 405"));
        for path in [
            "/../secret.txt",
            "/%2e%2e/secret.txt",
            "/..%2fsecret.txt",
            "/link.txt",
            "//etc/passwd",
            "/%",
            "/%zz",
            "/%ff",
            "secret.txt",
            "",
            "/none",
            "/",
        ] {
            let answer = ask(&site, &format!("GET {path}"));
            assert!(answer.starts_with("HTTP/1.1 404"), "{path}: {answer}");
        }
    }
}
