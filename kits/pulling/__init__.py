"""The foreman's day: which sets have everything here, which reels to bring, the stand where they are cut."""
