//! Which addresses of this computer are served.

use super::{PageError, Settings};
use std::io;
use std::net::{IpAddr, Ipv4Addr, SocketAddr, TcpListener, UdpSocket};

/// The address by which this computer is in its network. Nothing is sent for it.
///
/// # Errors
/// [`PageError::NoNetwork`] where it is in none.
pub fn lan_address() -> Result<IpAddr, PageError> {
    // An address of the block for documentation (RFC 5737): the way there is the way out.
    let way_out = || -> io::Result<IpAddr> {
        let socket = UdpSocket::bind((Ipv4Addr::UNSPECIFIED, 0))?;
        socket.connect((Ipv4Addr::new(192, 0, 2, 1), 9))?;
        Ok(socket.local_addr()?.ip())
    };
    way_out()
        .ok()
        .filter(|address| !address.is_unspecified() && !address.is_loopback())
        .ok_or(PageError::NoNetwork)
}

/// This computer's own address, and the one of the network: at the same port, so that one number is
/// said.
pub(super) fn listeners(settings: &Settings) -> Result<Vec<TcpListener>, PageError> {
    let bind = |ip: IpAddr, port: u16| {
        let address = SocketAddr::new(ip, port);
        TcpListener::bind(address)
            .and_then(|listener| listener.set_nonblocking(true).map(|()| listener))
            .map_err(|error| PageError::Address(address, error))
    };
    let home = IpAddr::V4(Ipv4Addr::LOCALHOST);
    let mut tries = if settings.port == 0 { 16 } else { 1 };
    loop {
        tries -= 1;
        let here = bind(home, settings.port)?;
        let port = here.local_addr().map_err(PageError::System)?.port();
        match settings.lan {
            None => return Ok(vec![here]),
            Some(lan) if lan.is_unspecified() => return Err(PageError::NoNetwork),
            Some(lan) if lan == home => return Ok(vec![here]),
            Some(lan) => match bind(lan, port) {
                Ok(there) => return Ok(vec![here, there]),
                Err(error) if tries == 0 => return Err(error),
                Err(_) => (),
            },
        }
    }
}
