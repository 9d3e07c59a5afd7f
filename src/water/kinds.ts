/** The kinds of work under which a container's water is read next, and it is cleaned next. Kept in rows: never changed once released. */
export const CHECK_WATER = "check water";
export const CLEAN_CONTAINER = "clean container";
