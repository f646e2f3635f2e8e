"""rigkit: where the joints of a limb lie in a mesh, which way the limb will fold, and why."""
