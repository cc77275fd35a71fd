//! Who looks on in a browser: reads the stream of states for as long as it comes.

use std::io::{Read, Write};
use std::net::TcpStream;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

/// Looks at the page of this link, on a thread that ends with the stream; bytes that came.
pub(crate) fn on(link: &str, page: &'static str) -> std::io::Result<Arc<AtomicU64>> {
    let rest = link.strip_prefix("http://").unwrap_or(link);
    let (address, rest) = rest.split_once('/').unwrap_or((rest, ""));
    let key = rest.split_once("#k=").map_or("", |(_, key)| key);
    let mut stream = TcpStream::connect(address)?;
    write!(
        stream,
        "GET /state?page={page}&units=mm HTTP/1.1\r\nHost: {address}\r\nAuthorization: Bearer {key}\r\n\r\n"
    )?;
    let came = Arc::new(AtomicU64::new(0));
    let counted = Arc::clone(&came);
    std::thread::spawn(move || {
        let mut bytes = vec![0; 1 << 16];
        while let Ok(count @ 1..) = stream.read(&mut bytes) {
            counted.fetch_add(count as u64, Ordering::Relaxed);
        }
    });
    Ok(came)
}
