//! How listeners and staff are to reach this server: what it listens on, and what stands in front of it.

use std::net::IpAddr;
use std::net::SocketAddr;
use std::net::UdpSocket;

/// How listeners and staff are to reach this server.
#[derive(Debug, Clone, Default)]
pub struct Reached {
    /// Where it listens.
    pub listens: Option<SocketAddr>,
    /// The address that people are given, such as `https://rating.example`, without a slash at its end.
    pub public_url: Option<String>,
    /// Whether the server ends TLS itself.
    pub tls: bool,
    /// The proxies in front whose word counts on who is at the other end.
    pub trusted_proxies: Vec<IpAddr>,
    /// Whether staff may reach the desk from beyond this machine; over a safe way only.
    pub desk_from_outside: bool,
}

/// How far the server is open.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Openness {
    /// To this machine alone.
    ThisMachine,
    /// To others, so that anybody on the way can read along.
    Clear,
    /// To others, over TLS.
    Safe,
}

impl Reached {
    /// How far it is open.
    pub fn openness(&self) -> Openness {
        let url_is_safe = |url: &String| url.starts_with("https://");
        let proxied = !self.trusted_proxies.is_empty();
        let near = self
            .listens
            .is_none_or(|address| address.ip().is_loopback());
        if self.tls && !near {
            Openness::Safe
        } else if proxied && self.public_url.as_ref().is_some_and(url_is_safe) {
            // Whoever can go round the proxy meets no TLS.
            if near {
                Openness::Safe
            } else {
                Openness::Clear
            }
        } else if near && self.public_url.is_none() {
            Openness::ThisMachine
        } else {
            Openness::Clear
        }
    }

    /// What the links of listeners begin with; `None` where only this machine reaches it.
    pub fn address_for_listeners(&self) -> Option<String> {
        if let Some(url) = &self.public_url {
            return Some(url.clone());
        }
        let listens = self.listens.filter(|address| !address.ip().is_loopback())?;
        let ip = if listens.ip().is_unspecified() {
            own_address()?
        } else {
            listens.ip()
        };
        Some(self.url(SocketAddr::new(ip, listens.port())))
    }

    /// Where staff open the desk: on this machine, or under the public address where they may.
    pub fn address_for_staff(&self) -> String {
        match &self.public_url {
            Some(url) if self.desk_from_outside && url.starts_with("https://") => url.clone(),
            _ => self.address_here(),
        }
    }

    /// The address on this machine itself.
    pub fn address_here(&self) -> String {
        let port = self.listens.map_or(8484, |address| address.port());
        let ip = match self.listens {
            Some(address) if address.ip().is_loopback() => address.ip(),
            _ => IpAddr::from([127, 0, 0, 1]),
        };
        self.url(SocketAddr::new(ip, port))
    }

    fn url(&self, address: SocketAddr) -> String {
        let scheme = if self.tls { "https" } else { "http" };
        format!("{scheme}://{address}")
    }
}

/// The address of this machine in its own network, if it is in one. Nothing is sent: the system is asked from where it
/// would send. 192.0.2.1 is nobody's (RFC 5737).
fn own_address() -> Option<IpAddr> {
    let socket = UdpSocket::bind("0.0.0.0:0").ok()?;
    socket.connect("192.0.2.1:9").ok()?;
    let ip = socket.local_addr().ok()?.ip();
    (!ip.is_unspecified()).then_some(ip)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn on(listens: &str) -> Reached {
        Reached {
            listens: Some(listens.parse().unwrap()),
            ..Reached::default()
        }
    }

    #[test]
    fn it_is_open_in_the_clear_unless_tls_goes_all_the_way() {
        assert_eq!(on("127.0.0.1:1").openness(), Openness::ThisMachine);
        assert_eq!(on("0.0.0.0:1").openness(), Openness::Clear);
        let mut own_tls = on("0.0.0.0:1");
        own_tls.tls = true;
        assert_eq!(own_tls.openness(), Openness::Safe);
        let mut proxied = on("127.0.0.1:1");
        proxied.public_url = Some("https://rating.example".to_owned());
        assert_eq!(proxied.openness(), Openness::Clear, "no proxy is trusted");
        proxied.trusted_proxies = vec![IpAddr::from([127, 0, 0, 1])];
        assert_eq!(proxied.openness(), Openness::Safe);
        proxied.listens = Some("0.0.0.0:1".parse().unwrap());
        assert_eq!(proxied.openness(), Openness::Clear, "round the proxy");
    }

    #[test]
    fn staff_are_sent_to_this_machine_unless_they_may_come_from_outside_safely() {
        let mut reached = on("0.0.0.0:8484");
        assert_eq!(reached.address_for_staff(), "http://127.0.0.1:8484");
        reached.public_url = Some("http://192.0.2.7:8484".to_owned());
        reached.desk_from_outside = true;
        assert_eq!(reached.address_for_staff(), "http://127.0.0.1:8484");
        reached.public_url = Some("https://rating.example".to_owned());
        assert_eq!(reached.address_for_staff(), "https://rating.example");
    }
}
