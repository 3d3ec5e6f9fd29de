"""Who is behind a study code? Kept in a file of its own, encrypted, elsewhere; no other room reads it."""

from outcomes.identity.link_file import Links, add_link, change_passphrase, read_links, remove_link

__all__ = ["Links", "add_link", "change_passphrase", "read_links", "remove_link"]
