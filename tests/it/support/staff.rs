//! A researcher at the desk over HTTP, with forms, files and parts.

use std::io::Read;
use std::io::Write;
use std::net::TcpStream;
use std::time::Duration;
use std::time::Instant;

use ureq::Agent;
use ureq::Body;
use ureq::http::Response;

use super::Desk;
use super::Study;
use super::account;

/// The desk of a study, on a port of its own, with a researcher at it.
pub(crate) struct Staff {
    /// Where it is, such as `http://127.0.0.1:34567`.
    pub(crate) address: String,
    /// What the browser holds.
    pub(crate) cookie: String,
    agent: Agent,
    _desk: Desk,
}

/// What came back.
#[derive(Debug)]
pub(crate) struct Page {
    /// The status.
    pub(crate) status: u16,
    /// Where it leads, if it leads elsewhere.
    pub(crate) location: String,
    /// The content.
    pub(crate) bytes: Vec<u8>,
}

impl Page {
    /// The content as text.
    pub(crate) fn text(&self) -> String {
        String::from_utf8_lossy(&self.bytes).into_owned()
    }
}

impl Staff {
    /// Serves a study's desk and signs a researcher in.
    #[track_caller]
    pub(crate) fn of(study: &Study) -> Self {
        account(study, "Ada", "researcher", &[]);
        Self::again(study)
    }

    /// Serves the desk of a study where that researcher is known already, as after a restart.
    #[track_caller]
    pub(crate) fn again(study: &Study) -> Self {
        let desk = Desk::of(study);
        let config = Agent::config_builder()
            .max_redirects(0)
            .http_status_as_error(false)
            .build();
        Self {
            address: desk.address.clone(),
            cookie: desk.sign_in("Ada"),
            agent: config.into(),
            _desk: desk,
        }
    }

    /// Reads a page.
    pub(crate) fn get(&self, path: &str) -> Page {
        self.get_with(path, &[])
    }

    /// Reads a page, with further headers.
    pub(crate) fn get_with(&self, path: &str, headers: &[(&str, &str)]) -> Page {
        let request = self.agent.get(self.at(path)).header("cookie", &self.cookie);
        let request = headers.iter().fold(request, |request, (name, value)| {
            request.header(*name, *value)
        });
        answer(request.call().unwrap())
    }

    /// Sends a form.
    pub(crate) fn post(&self, path: &str, form: &[(&str, &str)]) -> Page {
        self.post_with(path, form, &[])
    }

    /// Sends a form, with further headers.
    pub(crate) fn post_with(
        &self,
        path: &str,
        form: &[(&str, &str)],
        headers: &[(&str, &str)],
    ) -> Page {
        let request = self
            .agent
            .post(self.at(path))
            .header("cookie", &self.cookie);
        let request = headers.iter().fold(request, |request, (name, value)| {
            request.header(*name, *value)
        });
        answer(request.send_form(form.iter().copied()).unwrap())
    }

    /// Sends files in one form, each under the name that it is called by.
    pub(crate) fn send_files(&self, path: &str, files: &[(&str, &[u8])]) -> Page {
        self.send_files_as(path, "files", files)
    }

    /// The same, in a field of this name.
    pub(crate) fn send_files_as(&self, path: &str, field: &str, files: &[(&str, &[u8])]) -> Page {
        let mut body = Vec::new();
        for (name, bytes) in files {
            let name = name.replace('"', "%22");
            let head = format!(
                "--fence\r\ncontent-disposition: form-data; name=\"{field}\"; filename=\"{name}\"\r\n\r\n"
            );
            body.extend(head.into_bytes());
            body.extend(*bytes);
            body.extend(b"\r\n");
        }
        body.extend(b"--fence--\r\n");
        let request = self
            .agent
            .post(self.at(path))
            .header("cookie", &self.cookie)
            .header("content-type", "multipart/form-data; boundary=fence");
        answer(request.send(&body[..]).unwrap())
    }

    /// Sends a part of a file, as the page's script does.
    pub(crate) fn put(&self, path: &str, bytes: &[u8], headers: &[(&str, &str)]) -> Page {
        let request = self.agent.put(self.at(path)).header("cookie", &self.cookie);
        let request = headers.iter().fold(request, |request, (name, value)| {
            request.header(*name, *value)
        });
        answer(request.send(bytes).unwrap())
    }

    /// Begins to send a body that says it has `length` bytes, sends these, and reads what the server says to it.
    pub(crate) fn put_and_stop(&self, path: &str, length: usize, bytes: &[u8]) -> String {
        let host = self.address.trim_start_matches("http://");
        let mut stream = TcpStream::connect(host).unwrap();
        let head = format!(
            "PUT {path} HTTP/1.1\r\nhost: {host}\r\ncookie: {}\r\ncontent-length: {length}\r\nconnection: close\r\n\r\n",
            self.cookie
        );
        stream.write_all(head.as_bytes()).unwrap();
        // The server may close before it has read all: it has said why by then.
        let _ = stream.write_all(bytes);
        let mut said = [0; 1000];
        let n = stream.read(&mut said).unwrap();
        String::from_utf8_lossy(&said[..n]).into_owned()
    }

    /// Begins an import; its address.
    #[track_caller]
    pub(crate) fn begin_import(&self) -> String {
        let begun = self.post("/desk/import", &[]);
        assert_eq!(begun.status, 303, "{}", begun.text());
        begun.location
    }

    /// Runs an import to its end; the page that tells it.
    #[track_caller]
    pub(crate) fn run_import(&self, import: &str) -> String {
        assert_eq!(self.post(&format!("{import}/run"), &[]).status, 303);
        let begun = Instant::now();
        loop {
            let state = self.get(&format!("{import}/run/state")).text();
            if state.contains("\"ended\":true") {
                return self.get(&format!("{import}/run")).text();
            }
            assert!(begun.elapsed() < Duration::from_mins(5), "{state}");
            std::thread::sleep(Duration::from_millis(30));
        }
    }

    fn at(&self, path: &str) -> String {
        format!("{}{path}", self.address)
    }
}

fn answer(mut response: Response<Body>) -> Page {
    let location = response.headers().get("location");
    let location = location.map_or_else(String::new, |value| value.to_str().unwrap().to_owned());
    Page {
        status: response.status().as_u16(),
        location,
        bytes: response.body_mut().read_to_vec().unwrap(),
    }
}
