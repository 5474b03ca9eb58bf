// Uses what openapi-generator made of the document: Use ADDRESS
import java.util.List;
import org.openapitools.client.ApiClient;
import org.openapitools.client.ApiException;
import org.openapitools.client.api.StacksApi;
import org.openapitools.client.model.SetOnShelf;
import org.openapitools.client.model.StackRequest;
import org.openapitools.client.model.PlanRequestTargetsInner;
import org.openapitools.client.model.Unit;
import org.openapitools.client.model.WantedLength;

public class Use {
    public static void main(String[] args) throws Exception {
        var service = new ApiClient();
        service.updateBaseUri(args[0]);
        var target = new WantedLength().kind(WantedLength.KindEnum.LENGTH).ref("op10").length("0.3506");
        var request = new StackRequest()
            .unit(Unit.IN)
            .sets(List.of(new SetOnShelf().id("crib").composition("inch-81").grade("AS-1")))
            .targets(List.of(new PlanRequestTargetsInner(target)));
        var stacks = new StacksApi(service);
        var answer = stacks.solveStacks(request, null, null);
        var refused = 0;
        try {
            stacks.solveStacks(request.targets(List.of()), null, null);
        } catch (ApiException problem) {
            refused = problem.getCode();
        }
        System.out.println(answer.getOutcome() + " " + answer.getStacks().size() + " " + refused);
    }
}
