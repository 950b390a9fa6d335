"""How much a drum holds, weighs and has left."""
