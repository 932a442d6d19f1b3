// What is typed and not yet saved, kept in this browser so that a lost connection or a closed page loses nothing.

const prefix = (region) => `fetchwater.draft.${region}.`;

// A draft: { base, revision, fields, at }: the fields as they were read, their revision (null: a new site), as typed, when.
export class Drafts {
  constructor(region) {
    this.region = region;
  }

  get(id) {
    try {
      return JSON.parse(localStorage.getItem(prefix(this.region) + id));
    } catch {
      return null;
    }
  }

  // Gives false where the browser cannot keep it.
  put(id, draft) {
    try {
      localStorage.setItem(prefix(this.region) + id, JSON.stringify({ ...draft, at: new Date().toISOString() }));
      return true;
    } catch {
      return false;
    }
  }

  drop(id) {
    localStorage.removeItem(prefix(this.region) + id);
  }

  ids() {
    const start = prefix(this.region);
    return Object.keys(localStorage).filter((key) => key.startsWith(start)).map((key) => key.slice(start.length));
  }
}
